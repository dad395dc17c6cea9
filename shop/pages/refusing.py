"""What cannot be taken at all: a request that no parser reads, and a machine whose disk is full.

Both are answered in words. What was typed is in the page that says so, to be sent again, once there is room.
"""

import errno
import sys
from collections.abc import Callable, Iterator

from django.core.exceptions import BadRequest, SuspiciousOperation
from django.http import Http404, HttpRequest, HttpResponse, UnreadablePostError
from django.http.multipartparser import MultiPartParserError
from django.template.loader import render_to_string
from django.utils.log import log_response
from django.views.defaults import server_error

NUL = "\0"  # no name has it, and PostgreSQL keeps none
FULL = (errno.ENOSPC, errno.EDQUOT)
SQLITE_FULL = ("SQLITE_FULL", "SQLITE_IOERR_WRITE")
DISK_FULL = "53100"  # of PostgreSQL: appendix A of its manual
NOT_TYPED = ("csrfmiddlewaretoken", "password", "again", "old", "pin", "code")
UNREADABLE = (BadRequest, SuspiciousOperation, MultiPartParserError, UnicodeError, LookupError, ValueError)


class ReadableMiddleware:
    """Refuse what cannot be read before anything asks for it: an address with a NUL, a form in another writing."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        try:
            self._read(request)
        except UnreadablePostError:
            return HttpResponse(status=400)  # whoever sent it is gone
        except UNREADABLE as error:
            return not_understood(request, error)
        return self.get_response(request)

    def _read(self, request: HttpRequest) -> None:
        if NUL in request.path:
            raise Http404("No address has a NUL.")
        if any(NUL in part for pair in request.GET.items() for part in pair):
            raise BadRequest("Nothing that is asked for has a NUL.")
        if (request.content_params or {}).get("charset", "utf-8").lower() not in ("utf-8", "utf8"):
            raise BadRequest("A form is sent in UTF-8.")
        _ = request.POST, request.FILES


def not_understood(request: HttpRequest, exception: Exception) -> HttpResponse:
    """Answer 400 without a look at what was sent."""
    answer = HttpResponse(render_to_string("400.html"), status=400)
    log_response("Not understood (%s): %s", type(exception).__name__, request.path, response=answer, request=request)
    return answer


def stopped(request: HttpRequest) -> HttpResponse:
    """Answer a fault: 503 with what was typed where the disk is full, else 500."""
    if not is_full(sys.exc_info()[1]):
        return server_error(request)
    typed = [(name, value) for name, values in request.POST.lists() if name not in NOT_TYPED for value in values]
    context = {"typed": typed, "token": request.POST.get("csrfmiddlewaretoken", ""), "at": request.get_full_path()}
    return HttpResponse(render_to_string("503_full.html", context), status=503, headers={"Retry-After": "60"})


def is_full(fault: BaseException | None) -> bool:
    """Whether a fault means that nothing more can be written on the disk, of files or of the database."""
    return any(
        (isinstance(one, OSError) and one.errno in FULL)
        or getattr(one, "sqlite_errorname", "") in SQLITE_FULL
        or getattr(one, "sqlstate", "") == DISK_FULL
        for one in _and_causes(fault)
    )


def _and_causes(fault: BaseException | None) -> Iterator[BaseException]:
    seen: list[BaseException] = []
    while fault is not None and fault not in seen:
        seen.append(fault)
        yield fault
        fault = fault.__cause__ or fault.__context__
