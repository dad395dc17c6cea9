"""The logbook: a day's lines, what is owed, what is held now, four acts."""

from datetime import date

from django.db.models import Sum
from django.http import Http404, HttpResponse
from django.utils import timezone
from django.views.decorators.http import require_GET

from inventory import causes
from inventory.models import Holding
from shop.pages import daybook
from shop.pages.middleware import ShopRequest
from shop.pages.owed import NOTES, gathered, owed
from shop.pages.watched import with_under_way


@require_GET
def logbook(request: ShopRequest) -> HttpResponse:
    """The day asked for, or today; what is owed stands beside today only.

    A day without lines yet is followed by the last days with lines.
    """
    today = timezone.localdate()
    day, units = _day(request.GET.get("day", ""), today), request.access.units
    lines, more = daybook.lines_of(request.book, day, units)
    owing = owed(request.workshop, units, is_owner=request.access.is_owner) if day == today else []
    context = {
        "day": day,
        "is_today": day == today,
        "lines": lines,
        "more": more,
        "last_days": [] if lines or day != today else daybook.last_days(request.book, day, units),
        "late": daybook.late_lines(request.book, today, units) if day == today else [],
        "earlier": daybook.day_before(request.book, day),
        "later": daybook.day_after(request.book, day) if day < today else None,
        "owed": owing,
        "owed_notes": [said for note in NOTES if (said := note(request.workshop))] if owing else [],
        "gathered": gathered(owing),
        "held": held_now(request) if day == today else [],
    }
    return with_under_way(request, "shop/logbook.html", context)


def _day(text: str, today: date) -> date:
    if not text:
        return today
    try:
        return date.fromisoformat(text)
    except ValueError:
        raise Http404("No such day.") from None


def held_now(request: ShopRequest) -> list[tuple[str, str, int]]:
    """Return what the book has in stock now: refrigerant, grade, milligrams."""
    rows = (
        Holding.objects.filter(account__book=request.book, account__kind__in=causes.STOCK_KINDS, mass_mg__gt=0)
        .values("refrigerant", "grade")
        .annotate(mass=Sum("mass_mg"))
        .order_by("refrigerant", "grade")
    )
    return [(row["refrigerant"], row["grade"], int(row["mass"])) for row in rows]
