"""The scale: choose a cylinder, enter the reading before and the one after, or a check weighing."""

from typing import Any
from urllib.parse import urlencode

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, render
from django.urls import reverse
from django.views.decorators.http import require_GET, require_http_methods

from inventory.book import ledger, weighing
from inventory.measure.scans import read_scan
from inventory.models import Cylinder, Holding, Weighing
from inventory.models.likeness import written_in
from inventory.pages import comeback
from inventory.pages.access import writer_required
from inventory.pages.fields.sent import Sent
from inventory.pages.forms.act import see
from inventory.pages.forms.photos import sent_photos
from inventory.pages.running import ActPage, run
from inventory.shelf.meant import cylinders_meant, not_found, the_cylinder
from inventory.shelf.queries import on_the_scale, scales_of, standing_here
from shop.models import Visit
from shop.pages.answers import echoed
from shop.pages.around import photos_late
from shop.pages.atscale import Pair, Standing, doubt_of, open_visit, reading, said_of
from shop.pages.forms.weigh import WeighForm, weigh_form
from shop.pages.found import remember_scale, remembered_scale
from shop.pages.goingon import PAGES, charged_mg, meant_for, wants
from shop.pages.middleware import ShopRequest
from shop.visits.gas import label_of
from shop.visits.log import with_log
from shop.visits.scale import stop_said

MOST_CYLINDERS = 60


@require_GET
@writer_required
def weigh(request: ShopRequest) -> HttpResponse:
    """Choose the cylinder, by its number or its scanned label."""
    asked = request.GET.get("q", "").strip()
    here = standing_here(request.book).exclude(kind=Cylinder.CANS).order_by("serial")
    if asked:
        near = here.filter(written_in("likeness", asked))
        found = cylinders_meant(here, asked) or list(near[:2])
        if len(found) == 1:
            return see(request, "cylinder-weigh", found[0].account.number)
        here = near
    cylinders = list(here[: MOST_CYLINDERS + 1])
    held = {
        row.account_id: row
        for row in Holding.objects.filter(account__in=[c.account_id for c in cylinders], mass_mg__gt=0)
    }
    on_scale = {one.account_id: one for one in on_the_scale(request.book)}
    rows = [(one, held.get(one.account_id), on_scale.get(one.account_id)) for one in cylinders[:MOST_CYLINDERS]]
    rows.sort(key=lambda row: row[2] is None)
    more = len(cylinders) > MOST_CYLINDERS
    context = {"rows": rows, "asked": asked, "more": more}
    if asked and not rows:
        context |= {"gone": the_cylinder(request.book, asked), "scan_words": not_found(read_scan(asked))}
    return render(request, "shop/weigh.html", context)


@require_http_methods(["GET", "HEAD", "POST"])
@writer_required
def cylinder_weigh(request: ShopRequest, number: int) -> HttpResponse:
    """Enter a reading of one cylinder: the first, the second of a pair, or a check."""
    cylinder = _cylinder(request, number)
    before = weighing.open_before(cylinder)
    check = "check" in request.GET
    form = _form(request, cylinder, before)
    if before is not None and (elsewhere := _elsewhere(request, form, cylinder, before)) is not None:
        return elsewhere
    way: Standing | Pair = (
        _standing(request, form, cylinder, check=check) if before is None else Pair(request, form, cylinder, before)
    )
    return run(
        request,
        form,
        ActPage(submit=way.submit, places=("weigh",)),
        understood=way.understood,
        write=way.write,
        to=lambda _: ("visit", way.visit.number) if way.visit else ("cylinder-weigh", number),
        said=way.said,
        made=None if check or before is not None else lambda _: "",
        late=photos_late(form),
        beside=lambda error: "gross" if isinstance(error, weighing.BelowTare) else None,
        template="shop/weigh_cylinder.html",
        context={
            "cylinder": cylinder,
            "before": before,
            "stop": _stop_words(request, form, before),
            "check": check,
            "last": ledger.last_weighing(cylinder.account),
            "content": Holding.objects.filter(account=cylinder.account, mass_mg__gt=0).first(),
        },
    )


@require_GET
@writer_required
def weigh_echo(request: ShopRequest) -> HttpResponse:
    """Say what a reading would mean of the cylinder that is chosen beside it; nothing where none is."""
    asked = request.GET.get("cylinder", "")
    if not asked.isdecimal():
        return render(request, "_echo.html", {"echo": {}})
    return cylinder_weigh_echo(request, int(asked))


@require_GET
@writer_required
def cylinder_weigh_echo(request: ShopRequest, number: int) -> HttpResponse:
    """Say what a reading that is being typed would mean: the content of the ``<output>``."""
    cylinder = _cylinder(request, number)
    before = weighing.open_before(cylinder)
    form = _form(request, cylinder, before, request.GET)

    def told() -> list[str] | None:
        gross = reading(request, form, cylinder, before, in_doubt=True)
        if gross is None:
            return None
        went = form.cleaned_data.get("went", "")
        said = said_of(request, gross, before, went)
        doubt = doubt_of(open_visit(request, went), gross, said)
        return [*said.lines, *((doubt,) if doubt else ())]

    return echoed(request, form, "gross", told)


def _standing(request: ShopRequest, form: WeighForm, cylinder: Cylinder, *, check: bool) -> Standing:
    """Return the first reading of a pair, for the leg of the visit that its address names, or a check."""
    visit = open_visit(request, f"visit-{request.GET.get('visit', '')}")
    leg = request.GET.get("leg", "")
    if check or visit is None or leg not in PAGES:
        return Standing(request, form, cylinder, check=check)
    return Standing(request, form, cylinder, context=visit.context, leg=leg)


def _cylinder(request: ShopRequest, number: int) -> Cylinder:
    return get_object_or_404(
        Cylinder.objects.select_related("account__book"), account__book=request.book, account__number=number
    )


def _form(request: ShopRequest, cylinder: Cylinder, before: Weighing | None, data: Any = None) -> WeighForm:
    scales = scales_of(request.book)
    visits = _open_visits(request) if before is not None else []
    kind = weigh_form(
        scales,
        echo=reverse("cylinder-weigh-echo", args=[request.access.slug, cylinder.account.number]),
        visits=visits,
        folded=bool(remembered_scale(request, scales, before)),
        open_since=before is not None,
    )
    initial: dict[str, Any] = {"scale": str(remembered_scale(request, scales, before))}
    if (asked := request.GET.get("visit", "")).isdecimal():
        initial["went"] = f"visit-{asked}"
    elif before is not None and (meant := meant_for(before, visits)) is not None:
        initial["went"] = f"visit-{meant.number}"
    if request.GET.get("went") == "nothing":
        initial["went"] = "nothing"
    if before is None and request.GET.get(comeback.BACK):  # from a leg, with what was typed there
        initial["scale"] = request.GET.get("scale") or initial["scale"]
        initial["gross"] = Sent.of(request.GET, "gross")
    sent, files = (data, None) if data is not None else (request.POST or None, request.FILES or None)
    return kind(sent, files, access=request.access, initial=initial)


def _stop_words(request: ShopRequest, form: WeighForm, before: Weighing | None) -> str:
    """Say at which gross the vehicle that the gas is meant for has what its label says; empty where none is chosen."""
    visit = open_visit(request, str(form["went"].value() or "")) if before is not None else None
    if visit is None or before is None or not wants(visit, before.account.cylinder):
        return ""
    return stop_said(before, int(label_of(visit)[1] or 0), charged_mg(visit), request.access.units.mass)


def _open_visits(request: ShopRequest) -> list[Visit]:
    visits = with_log(Visit.objects.filter(workshop=request.workshop).exclude(state=Visit.CLOSED))
    return list(visits.select_related("workshop__book").order_by("-number")[:20])


def _elsewhere(request: ShopRequest, form: WeighForm, cylinder: Cylinder, before: Weighing) -> HttpResponse | None:
    """Lead to the page of a transfer or a loss with the reading that was typed; None where neither was chosen."""
    if not form.is_valid() or (went := form.cleaned_data["went"]) not in ("transfer", "loss"):
        return None
    gross = reading(request, form, cylinder, before)
    if gross is None:
        return None
    remember_scale(request, gross.scale)
    query = urlencode({**Sent.of(form.data, "gross").named("after"), "scale": gross.scale.number})
    response = see(request, f"cylinder-{went}", cylinder.account.number)
    response["Location"] += f"?{query}"
    if sent_photos(form):
        messages.info(request, "The photos were not kept: add them from the line once it is written.")
    return response
