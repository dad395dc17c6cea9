"""Which cautions of a page a person has read: in full once in a visit, from then on one line that opens.

Nothing of it stands in the book. It is kept in the session of the person, by what the page is about (`cautions_of` in
its context, such as ``visit:214``; without it the day), and ends with the session: who signs in again reads them again.
A page shows the headings of the unread where the act begins, and their sentences before its button. Pressed there, the
button sends the form with ``go``, so that it comes back unjudged with what was typed.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from django.http import HttpRequest, HttpResponse, HttpResponseRedirect
from django.utils import timezone

from inventory.gases.cautions import CAUTIONS, Caution
from inventory.pages.comeback import GO

READ = "cautions"  # the first word of what ``go`` holds, before what it is about and the ids; and the session's name
MOST_KEPT = 20  # visits, days or cylinders of which a session remembers what was read
LONGEST = 60


@dataclass(frozen=True)
class Standing:
    """The cautions of a page as they stand with a person; `press` is what the button sends."""

    unread: Sequence[Caution] = ()
    read: Sequence[Caution] = ()
    read_at: datetime | None = None
    press: str = ""


def standing_of(request: HttpRequest, cautions: Iterable[Caution], about: str = "") -> Standing:
    """Return the cautions of a page parted into unread and read, with the moment at which the last of them was read."""
    known = _known(request, about)
    all_of_them = list(cautions)
    read = [one for one in all_of_them if one.id in known]
    unread = [one for one in all_of_them if one.id not in known]
    last = max((datetime.fromisoformat(known[one.id]) for one in read), default=None)
    return Standing(unread, read, last, " ".join((READ, about or "day", *(one.id for one in unread))))


def take(request: Any) -> HttpResponse | None:
    """Keep what was read, where that was pressed, and answer with the page again; None where its own view answers.

    A form goes on to its view, which shows it unjudged.
    """
    words = request.POST.get(GO, "").split()
    if request.method != "POST" or len(words) < 2 or words[0] != READ:
        return None
    _, about, *ids = words
    _keep(request, "" if about == "day" else about[:LONGEST], [one for one in ids if one in CAUTIONS])
    sent_alone = set(request.POST) <= {"csrfmiddlewaretoken", GO}
    return HttpResponseRedirect(request.get_full_path(), status=303) if sent_alone else None


def _keep(request: HttpRequest, about: str, ids: Sequence[str]) -> None:
    moment = timezone.now().isoformat()
    read = {**_known(request, about), **dict.fromkeys(ids, moment)}
    others = {name: kept for name, kept in request.session.get(READ, {}).items() if name != _name(request, about)}
    request.session[READ] = {**dict(list(others.items())[-(MOST_KEPT - 1) :]), _name(request, about): read}


def _known(request: HttpRequest, about: str) -> Mapping[str, str]:
    """Return when each caution that was read of a record was read, by id."""
    kept: Mapping[str, str] = request.session.get(READ, {}).get(_name(request, about), {})
    return kept


def _name(request: HttpRequest, about: str) -> str:
    """Return how the session calls a record of a workshop; without one, the day."""
    slug = request.access.slug if hasattr(request, "access") else ""
    return f"{slug} {about or timezone.localdate().isoformat()}"
