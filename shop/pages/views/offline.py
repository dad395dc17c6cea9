"""For when the net is away: the worker that keeps pages, the page that says so, what a phone asks before it sends."""

from uuid import UUID

from django.contrib.auth.decorators import login_not_required
from django.http import HttpRequest, HttpResponse, JsonResponse
from django.middleware.csrf import get_token
from django.shortcuts import render
from django.utils import timezone
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_safe

from inventory.models import AirCheck, Entry
from shop.models import Step, User, Watch, WatchReading
from shop.pages.shell import worker_script


@require_safe
@login_not_required
def worker(request: HttpRequest) -> HttpResponse:
    """The worker, at the root so that every page is within its reach; asked for anew each time."""
    headers = {"Cache-Control": "no-cache", "Service-Worker-Allowed": "/"}
    return HttpResponse(worker_script(), content_type="text/javascript; charset=utf-8", headers=headers)


@require_safe
@login_not_required
def net_away(request: HttpRequest) -> HttpResponse:
    """What is shown without net in place of a page that was not kept."""
    return render(request, "shop/net_away.html")


@never_cache
@require_safe
@login_not_required
def sending(request: HttpRequest) -> HttpResponse:
    """Say who is signed in, the time, and whether the form with ``key`` stands in the book; give a fresh token."""
    person = request.user if isinstance(request.user, User) else None
    key = _key(request.GET.get("key", ""))
    return JsonResponse(
        {
            "person": person.handle if person else "",
            "token": get_token(request),
            "now": round(timezone.now().timestamp() * 1000),
            "written": bool(person and key and is_written(key, person)),
        }
    )


def is_written(key: UUID, person: User) -> bool:
    """Whether a form of this person has written a line, a step, a reading of what runs or an air check."""
    mine = (
        Entry.objects.filter(actor=person.handle),
        Step.objects.filter(visit__workshop__memberships__user=person),
        AirCheck.objects.filter(actor=person.handle),
        Watch.objects.filter(started_by=person.handle),
        WatchReading.objects.filter(taken_by=person.handle),
    )
    return any(rows.filter(request_key=key).exists() for rows in mine)


def _key(text: str) -> UUID | None:
    try:
        return UUID(text)
    except ValueError:
        return None
