"""Which pages a phone may keep for when the net is away, and for whom; `worker.js` reads the headers that say so.

Kept are the pages on which something is entered at a car or a scale, of visits that are open, for a person who may
write. Nothing else is: no record of a person or customer, no document, export or setting.
"""

from django.http import HttpRequest, HttpResponse
from django.utils import timezone

from inventory.measure.figures import NARROW

PERSON, KEEP = "Tarebook-Person", "Tarebook-Keep"
NOBODY = "nobody"
FORM = b" data-kept"  # of which `book.js` keeps what was typed
PAGES = {
    "visit",
    "visit-new",
    "visit-step",
    "visit-charge",
    "visit-recover",
    "visit-hand-over",
    "visit-sheet",
    "watch-new",
    "weigh",
    "cylinder-weigh",
}


def mark(request: HttpRequest, response: HttpResponse) -> None:
    """Say on a page whose it is, and on one that may be kept what time it shows, in the workshop's zone."""
    page = response.get("Content-Type", "").startswith("text/html")
    goes_back = page and not response.streaming and FORM in response.content
    response.headers.setdefault("Cache-Control", "private, no-cache" if goes_back else "no-store")
    if response.status_code >= 500 or not page:
        return
    person, access = (getattr(request, name, None) for name in ("user", "access"))
    response[PERSON] = person.handle if person is not None and person.is_authenticated else NOBODY
    if access is not None and may_be_kept(request) and response.status_code == 200:
        response[KEEP] = access.units.when_said(timezone.localtime()).replace(NARROW, " ")  # a header is plain


def may_be_kept(request: HttpRequest) -> bool:
    """Whether the page of a request is one to keep: as it is opened, of what is open, for who may write."""
    place, access, visit = (getattr(request, name, None) for name in ("resolver_match", "access", "visit"))
    return (
        request.method == "GET"
        and place is not None
        and place.url_name in PAGES
        and access is not None
        and access.may_write
        and not {"kept", "back"} & set(request.GET)
        and (visit is None or visit.state != visit.CLOSED)
    )
