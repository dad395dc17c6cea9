"""What the owner of a car reads of one visit, at a secret address, without signing in and without a cookie."""

from zoneinfo import ZoneInfo

from django.contrib.auth.decorators import login_not_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.views.decorators.http import require_safe

from compliance.models import ReaderLink
from compliance.pages.handing import seldom_guessed, unlisted
from compliance.papers.paper import NothingToIssue
from compliance.readers import owners
from compliance.readers.carview import CHOICES, car_view, units_for
from compliance.readers.links import NoLink
from inventory.output.beside import side_by_side
from shop.pages.pictures import drawing_of


@login_not_required
@require_safe
@seldom_guessed
def car(request: HttpRequest, token: str) -> HttpResponse:
    """The visit, in plain words; one and the same page for every address that leads nowhere."""
    try:
        link = owners.read(token)
        answer = render(request, "compliance/car.html", _shown(request, link))
    except (NoLink, NothingToIssue):
        return unlisted(render(request, "compliance/car_nothing.html", {"why": owners.LEADS_NOWHERE}, status=404))
    if request.method == "GET":
        owners.was_read(link)
    return unlisted(answer)


def _shown(request: HttpRequest, link: ReaderLink) -> dict[str, object]:
    workshop, asked = link.workshop, request.GET.get("units", "")
    units = units_for(workshop, asked)
    timezone.activate(ZoneInfo(workshop.zone))
    view = car_view(workshop, link.about, units)
    sentence = "The masses side by side."
    return {
        "shop": workshop,
        "link": link,
        "units": units,
        "view": view,
        "masses": side_by_side(view.bars, units, sentence=sentence) if view.bars else None,
        "tests": [(test, drawing_of(test.picture, units)) for test in view.tests],
        "asked": asked if asked in CHOICES else "",
    }
