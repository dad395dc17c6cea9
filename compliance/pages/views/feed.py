"""The calendar of what falls due, at a secret address."""

from django.contrib.auth.decorators import login_not_required
from django.http import HttpRequest, HttpResponse
from django.utils import timezone
from django.views.decorators.http import require_safe

from compliance.due import feed
from compliance.findings.judging import today_of
from compliance.pages.handing import seldom_guessed, unlisted


@login_not_required
@require_safe
@seldom_guessed
def calendar(request: HttpRequest, token: str) -> HttpResponse:
    """What falls due, as a calendar program reads it; a sentence where the address leads nowhere."""
    try:
        workshop = feed.opened(token)
    except feed.NoCalendar as error:
        status = 410 if isinstance(error, feed.Revoked) else 404
        return unlisted(HttpResponse(f"{error}\n", content_type="text/plain; charset=utf-8", status=status))
    content = feed.calendar_of(workshop, today_of(workshop), timezone.now())
    return unlisted(HttpResponse(content, content_type="text/calendar; charset=utf-8"))
