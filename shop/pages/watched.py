"""What runs at a visit, as several pages show it: with its list of what is under way, and in the form of its step."""

import re
from collections.abc import Mapping
from typing import Any

from django.http import HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.utils.cache import patch_cache_control

from inventory.pages.forms.act import see
from shop.models import Visit, Watch
from shop.pages.forms.stepfields import Making
from shop.pages.middleware import ShopRequest
from shop.visits.steps import StepKind
from shop.visits.underway import UnderWay, under_way
from shop.visits.watches import WATCH_BY_NAME, WATCHED


def with_under_way(
    request: ShopRequest, template: str, context: Mapping[str, Any], visit: Visit | None = None
) -> HttpResponse:
    """Answer with a page on which stands what is under way, in the workshop or at one visit, and what can be started.

    Where something runs the browser may not keep the page: its countdown begins with the server's time.
    """
    running = under_way(request.workshop, timezone.now(), visit)
    kinds = [kind for kind in WATCHED if kind.name not in {one.kind.name for one in running}]
    response = render(request, template, {**context, "running": running, "may_watch": kinds})
    if running:
        patch_cache_control(response, no_store=True)
    return response


def running_at(visit: Visit, kind: StepKind) -> UnderWay | None:
    """Return what of one kind of step is under way at a visit, or None."""
    if kind.name not in WATCH_BY_NAME:
        return None
    running = under_way(visit.workshop, timezone.now(), visit)
    return next((one for one in running if one.kind.name == kind.name), None)


def elsewhere(request: ShopRequest, visit: Visit, running: UnderWay | None) -> HttpResponse | None:
    """Lead to the page of what an address means to finish where that runs no more, which says what became of it."""
    asked = request.GET.get("watch", "")
    if request.method == "POST" or not re.fullmatch(r"[0-9]{1,18}", asked):
        return None
    if running is not None and running.watch.pk == int(asked):
        return None
    found = Watch.objects.filter(visit=visit, pk=int(asked)).first()
    return see(request, "watch", visit.number, found.pk) if found else None


def instrument_alone(kind: StepKind, making: Making) -> dict[str, str]:
    """Return the instruments of a step of which the workshop has one each, as its form chooses them.

    Only the kind named first is chosen unasked: a pressure gauge may be all there is for a vacuum, and sees little.
    """
    found: dict[str, str] = {}
    for one in kind.fields:
        fitting = [gauge for gauge in making.gauges if one.type == "instrument" and gauge.kind in one.instruments]
        alone = len(fitting) == 1 and fitting[0].kind == one.instruments[0]
        found |= {one.name: str(fitting[0].pk)} if alone else {}
    return found
