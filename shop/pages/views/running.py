"""Addresses for whoever runs the server: whether it can work, and counts of what it did."""

from django.conf import settings
from django.contrib.auth.decorators import login_not_required
from django.db import DatabaseError
from django.http import Http404, HttpRequest, HttpResponse, JsonResponse
from django.utils.crypto import constant_time_compare
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_safe
from prometheus_client import CONTENT_TYPE_LATEST, generate_latest

from shop.pages.observing import REGISTRY
from shop.people.migrations import waiting
from shop.serving.version import version


@require_safe
@login_not_required
@never_cache
def health(request: HttpRequest) -> HttpResponse:
    """Say whether the database answers and has every migration: 200, or 503 where the server cannot work."""
    try:
        left = len(waiting())
    except DatabaseError:
        return JsonResponse({"version": version(), "database": "does not answer"}, status=503)
    said = {"version": version(), "database": "answers", "migrations": f"{left} waiting" if left else "all there"}
    return JsonResponse(said, status=503 if left else 200)


@require_safe
@login_not_required
@never_cache
def metrics(request: HttpRequest) -> HttpResponse:
    """Return what the process that answers has counted, to whoever knows the token; 404 for anybody else."""
    token = settings.METRICS_TOKEN
    if not token or not constant_time_compare(request.headers.get("Authorization", ""), f"Bearer {token}"):
        raise Http404("No such page.")
    return HttpResponse(generate_latest(REGISTRY), content_type=CONTENT_TYPE_LATEST)
