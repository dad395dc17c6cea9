"""What a page does with a scan: the answer for the camera's dialog, and the field that takes a number or a label."""

from collections.abc import Callable
from functools import wraps
from typing import cast

from django.http import HttpResponse, HttpResponseRedirect

from inventory.measure.scans import read_scan
from inventory.pages.access import BookRequest, P, R, View
from inventory.pages.links import address
from inventory.shelf.meant import not_found, the_cylinder

SAID = "said"  # what was scanned or typed, in the address of a page that chooses a cylinder


def answer_to(request: BookRequest, said: str, *, is_new: bool) -> dict[str, object]:
    """Return what a scan is, for the page that read it.

    ``fill`` is what the field gets and ``number`` the cylinder's; without ``fill`` there are ``words`` for why not,
    and perhaps ``href`` with ``link``. With `is_new` a number is wanted that no cylinder has.
    """
    scan = read_scan(said)
    found = the_cylinder(request.book, said)
    if found is not None:
        page = address(request.access, "cylinder", found.account.number)
        if not is_new:
            return {"fill": found.serial, "number": found.account.number}
        words = f"“{scan.text}” is cylinder {found}, which is in the book already."
        return {"words": words, "href": page, "link": f"Open {found}"}
    if is_new and scan.text and not scan.is_address:
        return {"fill": scan.text}
    return {"words": not_found(scan)}


def chosen_by_scan(into: str) -> Callable[[View[R, P]], View[R, P]]:
    """Let a page that chooses a cylinder answer the field of `_by_number.html`: lead to its choice, named `into`.

    What names no cylinder is said beside the field: `request.scan_words`.
    """

    def around(view: View[R, P]) -> View[R, P]:
        @wraps(view)
        def led(request: R, *args: P.args, **kwargs: P.kwargs) -> HttpResponse:
            said = request.GET.get(SAID, "")
            if not said.strip():
                return view(request, *args, **kwargs)
            found = the_cylinder(request.book, said)
            if found is not None:
                return HttpResponseRedirect(f"?{into}={found.account.number}")
            request.scan_words = not_found(read_scan(said))  # type: ignore[attr-defined] # for the template
            return view(request, *args, **kwargs)

        return cast(View[R, P], led)

    return around
