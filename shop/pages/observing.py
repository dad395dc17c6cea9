"""What a running server says of itself: a line of its log for each request, and counts of them.

Neither names anybody: a request is known by the pattern of its address, such as ``w/<slug:slug>/visits/``, never by
the address itself, and not by who sent it or from where.
"""

import json
import logging
import time
from collections.abc import Callable

from django.http import HttpRequest, HttpResponse
from django.utils import timezone
from prometheus_client import CollectorRegistry, Counter, Histogram

REGISTRY = CollectorRegistry()  # of this process
ANSWERED = Counter("tarebook_requests", "Requests answered", ["method", "page", "status"], registry=REGISTRY)
TOOK = Histogram("tarebook_request_seconds", "Seconds until an answer was ready", ["page"], registry=REGISTRY)
METHODS = frozenset({"GET", "HEAD", "POST", "OPTIONS", "PUT", "PATCH", "DELETE"})

log = logging.getLogger("tarebook.requests")


class ObservingMiddleware:
    """Log and count each request once it is answered."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        begun = time.perf_counter()
        response = self.get_response(request)
        _tell(request, response, time.perf_counter() - begun)
        return response


def _tell(request: HttpRequest, response: HttpResponse, took_s: float) -> None:
    page = request.resolver_match.route if request.resolver_match else "no page"
    method = request.method if request.method in METHODS else "another"
    ANSWERED.labels(method, page, response.status_code).inc()
    TOOK.labels(page).observe(took_s)
    if log.isEnabledFor(logging.INFO):
        said = {"method": method, "page": page, "status": response.status_code, "ms": round(took_s * 1000, 1)}
        log.info(json.dumps({"at": timezone.now().isoformat(timespec="milliseconds"), **said}))
