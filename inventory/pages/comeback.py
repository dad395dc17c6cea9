"""Create what is missing in the middle of a form, and come back to it with what was typed still there.

A field says what could be created for it (``created_by = "scale"``, a name in `OFFERS`); `_field.html` then
shows the button below it, which sends the form with ``go``. Such a request never reaches the page's own view: what was
typed is put into the session of the person, nothing is judged or written, and the person is led to the short form.
Once that has created something it calls `back`, which leads to the first form again, with the new thing chosen in the
field. The first page then shows what was typed without judging it, as after "Go back and change".

A form that was read back and then left is kept the same way, until its key is written or the person drops it: when its
page is opened again, `left_here` says so, with the ways on.

A page without a form (a list in which nothing fits) links to the short form with ``?back=`` and its own address;
``NEW`` in that address is replaced by what was created.
"""

import secrets
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import Any
from urllib.parse import quote, urlencode

from django.contrib import messages
from django.http import HttpRequest, HttpResponse, HttpResponseRedirect, QueryDict
from django.urls import NoReverseMatch, reverse
from django.utils import timezone
from django.utils.http import url_has_allowed_host_and_scheme

from inventory.models import Entry
from inventory.models.access import Access

GO, BACK, KEPT, NEW = "go", "back", "kept", "NEW"
DROP = "drop"  # with a token, sent as ``go``: what was kept is not wanted any more
IN_SESSION = "left_forms"
MOST_KEPT = 5  # forms left at once: one within another is two
MOST_CHARACTERS = 30_000  # of one form as sent; a session is read with every page
NOT_KEPT = ("csrfmiddlewaretoken", "read_back", "password", "again", GO)
TOO_MUCH = "That is too much to keep meanwhile. Write this first, or shorten the note."
FILES_AGAIN = "Choose photos and files again: they were not kept."


def leave(request: Any) -> HttpResponse | None:
    """Answer a form that was sent to create something: keep what was typed, lead there; None for any other request.

    What cannot be kept stays on its page, which shows it unjudged.
    """
    kind, _, name = request.POST.get(GO, "").partition(" ")
    if request.method == "POST" and kind == DROP:
        _drop(request, lambda token, _: token == name)
        return HttpResponseRedirect(_bare(request), status=303)
    offer = OFFERS.get(kind)
    if request.method != "POST" or offer is None:
        return None
    try:
        there = reverse(offer.page, args=[request.access.slug, *([name] if offer.of_one else [])])
    except NoReverseMatch:
        return None
    token = keep(request, "" if offer.of_one else name)
    if token is None:
        return None
    more = f"&{offer.query}" if offer.query else ""
    return HttpResponseRedirect(f"{there}?{urlencode({BACK: token})}{more}", status=303)


def keep(request: Any, name: str = "") -> str | None:
    """Keep what was typed, to be led back to by `back` with field `name` filled; None where it is too much."""
    sent = _without(request.POST, NOT_KEPT)
    text = sent.urlencode()
    if len(text) > MOST_CHARACTERS:
        messages.info(request, TOO_MUCH)
        return None
    left: dict[str, Any] = request.session.get(IN_SESSION, {})
    token = secrets.token_urlsafe(8)
    kept = {"path": _bare(request), "sent": text, "field": name[:80], "files": bool(request.FILES)}
    request.session[IN_SESSION] = {**dict(list(left.items())[-(MOST_KEPT - 1) :]), token: kept}
    return token


def keep_read_back(request: Any, key: object) -> None:
    """Keep a form that is read back, with its key and the time, in place of what was kept of its page before."""
    path = _bare(request)
    _drop(request, lambda _, left: left["path"] == path and "key" in left)
    if len(request.POST.urlencode()) > MOST_CHARACTERS:
        return
    token = keep(request)
    if token is not None:
        left = request.session[IN_SESSION]
        facts = {"key": str(key), "at": timezone.now().timestamp()}
        request.session[IN_SESSION] = {**left, token: {**left[token], **facts}}


def written(request: Any, key: object) -> None:
    """Forget what was kept of a form that is written."""
    _drop(request, lambda _, left: left.get("key") == str(key))


def left_here(request: Any) -> dict[str, Any] | None:
    """Return what was read back and left on the page of a request: when, the address that shows it, its token."""
    every = request.session.get(IN_SESSION) if request.method == "GET" and KEPT not in request.GET else None
    if not every:
        return None
    path = _bare(request)
    found = next(((token, left) for token, left in every.items() if "key" in left and left["path"] == path), None)
    if found is None or Entry.objects.filter(book=request.book, request_key=found[1]["key"]).exists():
        return None
    token, left = found
    at = timezone.localtime(datetime.fromtimestamp(left["at"], UTC))
    return {"at": request.access.units.clock_said(at), "href": _with_kept(path, token), "drop": f"{DROP} {token}"}


def _drop(request: Any, of: Callable[[str, dict[str, Any]], bool]) -> None:
    every: dict[str, Any] = request.session.get(IN_SESSION, {})
    stay = {token: left for token, left in every.items() if not of(token, left)}
    if len(stay) != len(every):
        request.session[IN_SESSION] = stay


def restore(request: Any) -> None:
    """Let a page that was left show what was typed there: its POST holds it, with ``change``, so nothing is judged."""
    left = _left(request, request.GET.get(KEPT, ""))
    if request.method == "GET" and left is not None and left["path"] == _bare(request):
        sent = QueryDict(left["sent"], mutable=True)
        sent["change"] = "1"
        request.POST = sent


def back(request: HttpRequest, value: object) -> HttpResponse | None:
    """Answer 303 to the form that was left, with `value` chosen in its field; None where none was left."""
    token = request.GET.get(BACK, "")
    left = _left(request, token)
    if left is None:
        path = _own_path(request, token)
        return HttpResponseRedirect(path.replace(NEW, quote(str(value))), status=303) if path else None
    sent = QueryDict(left["sent"], mutable=True)
    if left["field"]:
        sent[left["field"]] = str(value)
    request.session[IN_SESSION] = {**request.session[IN_SESSION], token: {**left, "sent": sent.urlencode()}}
    if left["files"]:
        messages.info(request, FILES_AGAIN)
    return HttpResponseRedirect(_with_kept(left["path"], token), status=303)


def way_back(request: HttpRequest) -> str:
    """Return the address of the form that was left, for a quiet link that creates nothing; "" where none was."""
    token = request.GET.get(BACK, "")
    left = _left(request, token)
    if left is not None:
        return _with_kept(left["path"], token)
    path = _own_path(request, token)
    return path.partition("?")[0] if NEW in path else path


def _left(request: HttpRequest, token: str) -> dict[str, Any] | None:
    found: dict[str, Any] | None = request.session.get(IN_SESSION, {}).get(token) if token else None
    return found


def _own_path(request: Any, path: str) -> str:
    """Return an address within the workshop of the request, as a link gave it; "" for any other."""
    own = f"/w/{request.access.slug}/"
    ok = path.startswith(own) and url_has_allowed_host_and_scheme(path, allowed_hosts=None)
    return path if ok else ""


def _bare(request: HttpRequest) -> str:
    """Return the address of a request without the mark of a form that was kept for it."""
    query = _without(request.GET, (KEPT,)).urlencode()
    return f"{request.path}?{query}" if query else request.path


def _with_kept(path: str, token: str) -> str:
    return f"{path}{'&' if '?' in path else '?'}{urlencode({KEPT: token})}"


def _without(data: QueryDict, names: Sequence[str]) -> QueryDict:
    found = data.copy()
    for name in names:
        found.pop(name, None)
    return found


@dataclass(frozen=True)
class Offer:
    """What can be created from within a form: the page that does it, the words of the button, and who may.

    `otherwise` is said to a technician where only the owner may, where there is nothing to choose or `always`;
    ``{owners}`` in it becomes their names.
    """

    page: str
    words: str
    owner_only: bool = False
    otherwise: str = ""
    always: bool = False
    query: str = ""  # what the page begins with
    of_one: bool = False  # what is sent behind its name is of whom the page is, and no field


OFFERS: dict[str, Offer] = {
    "scale": Offer("scale-new", "Enter a scale", True, "A scale is entered by the owner: {owners}."),
    "supplier": Offer("partner-new", "Enter a supplier", query="kind=supplier"),
    "reclaimer": Offer("partner-new", "Enter a reclaimer", query="kind=reclaimer"),
    "customer": Offer("partner-new", "Enter a customer", query="kind=customer"),
    "partner": Offer("partner-new", "Enter a partner"),
    "car-owner": Offer("customer-new", "Enter a customer"),
    "vehicle": Offer("vehicle-new", "Enter a vehicle"),
    "visit": Offer("visit-new", "Start a visit for another vehicle"),
    "person": Offer("person-new", "Add a person", True, "Another person is added by the owner: {owners}.", True),
    "certificate": Offer("certificate-new", "Enter the certificate", True, of_one=True),
    **{
        kind: Offer(
            "gauge-new",
            f"Enter {words}",
            True,
            f"{words.capitalize()} is entered by the owner: {{owners}}.",
            query=query,
        )
        for kind, words, query in (
            ("gauge", "a gauge", "kind=pressure+gauge"),
            ("vacuum-gauge", "a gauge", "kind=vacuum+gauge"),
            ("thermometer", "a thermometer", "kind=thermometer"),
            ("identifier", "an identifier", "kind=identifier"),
            ("leak-detector", "a leak detector", "kind=leak+detector"),
        )
    },
    "height": Offer("settings-workshop", "Enter the height", True),
}


@dataclass(frozen=True)
class Shown:
    """What stands below a field: a button that sends `value` as ``go``, or a sentence for who may not."""

    words: str
    value: str = ""


def offered(field: Any, access: Access | None) -> Shown | None:
    """Return what is offered below a bound field to the person of the request, or None."""
    offer = OFFERS.get(getattr(field.field, "created_by", ""))
    if offer is None or access is None or not access.may_write:
        return None
    if offer.owner_only and not access.is_owner:
        needed = offer.always or not getattr(field.field, "entered", field.field.choices)
        owners = ", ".join(access.owners()) if offer.otherwise and needed else ""
        return Shown(offer.otherwise.format(owners=owners)) if owners else None
    return Shown(offer.words, f"{field.field.created_by} {field.html_name}")
