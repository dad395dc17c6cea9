"""The scale: choose a cylinder, enter the reading before and the one after, or a check weighing."""

from typing import Any

from django.contrib import messages
from django.db.models import Q
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_GET, require_http_methods

from inventory.acts import onscale
from inventory.book import ledger, weighing
from inventory.book.refusals import LedgerError, Refused
from inventory.book.weighing import Gross
from inventory.models import Cylinder, Entry, Holding, Scale, Weighing
from inventory.models.likeness import written_in
from inventory.pages import comeback
from inventory.pages.access import writer_required
from inventory.pages.fields.sent import Sent
from inventory.pages.forms.act import page, read_back, see, written
from inventory.pages.forms.photos import sent_photos, taken_in
from inventory.pages.forms.slips import sent_of
from inventory.pages.forms.weighing import reading_of, scales_of
from inventory.pages.running import answered_before
from inventory.shelf.plausible import Expected
from shop.models import Visit
from shop.pages.forms.usual import leg_doubt
from shop.pages.forms.weigh import WeighForm, happened_field, weigh_form
from shop.pages.middleware import ShopRequest
from shop.pages.views.photos import photos_late
from shop.visits import scale
from shop.visits import scale as scale_words
from shop.visits.acts import entering, gas_in, gas_out
from shop.visits.doubts import charge_in_doubt, recovery_in_doubt
from shop.visits.gas import gas_of
from shop.visits.log import with_log
from shop.visits.scale import Said, Target

MOST_CYLINDERS = 60


@require_GET
@writer_required
def weigh(request: ShopRequest) -> HttpResponse:
    """Choose the cylinder, by its number or its scanned label."""
    asked = request.GET.get("q", "").strip()
    here = Cylinder.objects.filter(account__book=request.book).exclude(state__in=("away", "done with"))
    here = here.exclude(kind__in=(Cylinder.CANS,)).select_related("account").order_by("serial")
    if asked:
        label = asked.rstrip("/").rpartition("/")[2].upper()
        found = here.filter(written_in("likeness", asked) | Q(label=label))
        if len(only := list(found[:2])) == 1:
            return see(request, "cylinder-weigh", only[0].account.number)
        here = found
    cylinders = list(here[: MOST_CYLINDERS + 1])
    held = {
        row.account_id: row
        for row in Holding.objects.filter(account__in=[c.account_id for c in cylinders], mass_mg__gt=0)
    }
    on_scale = {one.account_id: one for one in scale.on_the_scale(request.workshop)}
    rows = [(one, held.get(one.account_id), on_scale.get(one.account_id)) for one in cylinders[:MOST_CYLINDERS]]
    rows.sort(key=lambda row: row[2] is None)
    more = len(cylinders) > MOST_CYLINDERS
    return render(request, "shop/weigh.html", {"rows": rows, "asked": asked, "more": more})


@require_http_methods(["GET", "HEAD", "POST"])
@writer_required
def cylinder_weigh(request: ShopRequest, number: int) -> HttpResponse:
    """Enter a reading of one cylinder: the first, the second of a pair, or a check."""
    cylinder = _cylinder(request, number)
    before = weighing.open_before(cylinder)
    check = "check" in request.GET
    form = _form(request, cylinder, before)
    if (again := answered_before(request, form, ("cylinder-weigh", number), photos_late(form))) is not None:
        return again
    if request.method == "POST" and form.is_valid():
        gross = _reading(request, form, cylinder, before)
        if gross is not None:
            request.session[f"scale-{request.book.pk}"] = gross.scale.number
            try:
                if before is None:
                    return _stand(request, form, gross, Weighing.CHECK if check else Weighing.BEFORE)
                if (answer := _pair(request, form, gross, before)) is not None:
                    return answer
            except LedgerError as error:
                form.add_error("gross" if isinstance(error, weighing.BelowTare) else None, str(error))
    return page(
        request,
        "shop/weigh_cylinder.html",
        form,
        cylinder=cylinder,
        before=before,
        check=check,
        last=ledger.last_weighing(cylinder.account),
        content=_content(cylinder),
    )


@require_GET
@writer_required
def cylinder_weigh_echo(request: ShopRequest, number: int) -> HttpResponse:
    """Say what a reading that is being typed would mean: the content of the ``<output>``."""
    cylinder = _cylinder(request, number)
    before = weighing.open_before(cylinder)
    form = _form(request, cylinder, before, request.GET)
    field = form.fields["gross"]
    typed = field.widget.value_from_datadict(request.GET, form.files, "gross")
    echo: dict[str, Any] = {**field.echo("gross", typed), "cannot": field.doubt(typed)}  # type: ignore[attr-defined]
    form.is_valid()
    gross = _reading(request, form, cylinder, before, in_doubt=True)
    if gross is not None:
        try:
            went = form.cleaned_data.get("went", "")
            said = _said(request, gross, before, went)
            doubt = _doubt(_visit(request, went), gross, said)
            echo |= {
                "words": said.lines[0],
                "follows": [*said.lines[1:], *((doubt,) if doubt else ()), *form.errors.get("gross", [])],
            }
        except LedgerError as error:
            echo = {"cannot": str(error)}
    elif echo.get("words") and form.errors.get("gross"):
        echo = {"cannot": form.errors["gross"][0]}
    return render(request, "_echo.html", {"echo": echo})


def _cylinder(request: ShopRequest, number: int) -> Cylinder:
    return get_object_or_404(
        Cylinder.objects.select_related("account__book"), account__book=request.book, account__number=number
    )


def _reading(
    request: ShopRequest, form: WeighForm, cylinder: Cylinder, before: Weighing | None, *, in_doubt: bool = False
) -> Gross | None:
    """Return the reading; what cannot be is refused on the form, and what is far from usual asked about."""
    expected = Expected()
    visit = _visit(request, form.cleaned_data.get("went", ""))
    if before is not None and visit is not None:
        expected = scale_words.leg_expected(None, gains=None, label_mg=visit.vehicle.nameplate_mg)
    return reading_of(form, "gross", cylinder, form.cleaned_data.get("scale"), expected, in_doubt=in_doubt)


def _content(cylinder: Cylinder) -> Holding | None:
    return Holding.objects.filter(account=cylinder.account, mass_mg__gt=0).first()


def _form(request: ShopRequest, cylinder: Cylinder, before: Weighing | None, data: Any = None) -> WeighForm:
    scales = scales_of(request.book)
    visits = _open_visits(request) if before is not None else None
    kind = weigh_form(
        request.workshop,
        scales,
        echo=reverse("cylinder-weigh-echo", args=[request.access.slug, cylinder.account.number]),
        visits=visits,
        open_since=before is not None,
    )
    initial: dict[str, Any] = {"scale": str(remembered_scale(request, scales, before))}
    if (asked := request.GET.get("visit", "")).isdecimal():
        initial["went"] = f"visit-{asked}"
    if before is None and request.GET.get(comeback.BACK):  # from a leg, with what was typed there
        known = {name: request.GET.get(name, "")[:60] for name in ("gross", "gross_unit", "gross_ounces", "scale")}
        initial["scale"] = known["scale"] or initial["scale"]
        initial["gross"] = Sent(text=known["gross"], unit=known["gross_unit"], ounces=known["gross_ounces"])
    sent, files = (data, None) if data is not None else (request.POST or None, request.FILES or None)
    return kind(sent, files, access=request.access, initial=initial)


def remembered_scale(request: ShopRequest, scales: list[Scale], before: Weighing | None = None) -> int | str:
    """Return the number of the scale to begin with: that of the first reading, the last one used, or the only one."""
    known = {scale.number for scale in scales}
    if before is not None and before.scale.number in known:
        return before.scale.number
    last = request.session.get(f"scale-{request.book.pk}")
    if last in known:
        return int(last)
    return scales[0].number if len(scales) == 1 else ""


def _open_visits(request: ShopRequest) -> list[Visit]:
    visits = Visit.objects.filter(workshop=request.workshop).exclude(state=Visit.CLOSED)
    return list(visits.select_related("vehicle__account").order_by("-number")[:20])


def _said(request: ShopRequest, gross: Gross, before: Weighing | None, went: str) -> Said:
    unit = request.access.mass_unit
    if before is None:
        return scale_words.first_reading(request.book, gross, timezone.now(), unit)
    visit = _visit(request, went)
    target = None
    if visit is not None and visit.vehicle.nameplate_mg:
        target = Target(int(visit.vehicle.nameplate_mg), int(visit.vehicle.nameplate_tolerance_mg or 0))
    return scale_words.second_reading(request.book, None, gross, timezone.now(), unit, target)


def _visit(request: ShopRequest, went: str) -> Visit | None:
    number = went.removeprefix("visit-")
    if not went.startswith("visit-") or not number.isdecimal():
        return None
    visits = with_log(Visit.objects.filter(workshop=request.workshop).exclude(state=Visit.CLOSED))
    return visits.select_related("workshop__book").filter(number=int(number)).first()


def _stand(request: ShopRequest, form: WeighForm, gross: Gross, role: str) -> HttpResponse:
    """Write a reading that stands by itself."""
    act = form.act(request.access, remark=form.cleaned_data["note"])
    said = scale_words.first_reading(request.book, gross, form.occurred, request.access.mass_unit, role)
    if form.needs_read_back(facts=said.facts, always=sent_of(form, "gross").insisted):
        rows = [
            ("Cylinder", gross.cylinder),
            ("Gross", gross.said),
            ("Scale", gross.scale),
            ("When", _when(form)),
        ]
        submit = "Enter the before" if role == Weighing.BEFORE else "Enter the check"
        then, again = " ".join(said.lines), sent_photos(form)
        return read_back(request, form, rows, then=then, facts=said.facts, submit=submit, files=again)
    entry = onscale.weigh(request.book, act, gross, role, taken_in(form))
    if role == Weighing.CHECK:
        return written(request, form, entry, "cylinder-weigh", gross.account.number)
    words = f"Before written as line {entry.seq}. Weigh it again when the gas has moved."
    there = written(request, form, entry, "cylinder-weigh", gross.account.number, said=words)
    return comeback.back(request, "") or there


def _pair(request: ShopRequest, form: WeighForm, gross: Gross, before: Weighing) -> HttpResponse | None:
    """Write the second reading of a pair and where the gas went; None where it is asked about."""
    went = form.cleaned_data["went"]
    if went in ("transfer", "loss"):
        number = gross.account.number
        sent = form.data
        query = f"after={sent.get('gross', '')}&after_unit={sent.get('gross_unit', '')}&scale={gross.scale.number}"
        response = see(request, f"cylinder-{went}", number)
        response["Location"] += f"?{query}"
        if sent_photos(form):
            messages.info(request, "The photos were not kept: add them from the line once it is written.")
        return response
    visit = _visit(request, went)
    if visit is None and went != "nothing":
        raise Refused("That visit is not open any more. Choose another.")
    said = _said(request, gross, before, went)
    much = leg_doubt(form, "gross", visit, said.change_mg, gross) if visit is not None else ""
    if form.errors:
        return None
    doubt = " ".join(filter(None, (_doubt(visit, gross, said), much)))
    facts = [*said.facts, before.pk, doubt]
    if form.needs_read_back(facts=facts, always=bool(doubt) or not said.shows or sent_of(form, "gross").insisted):
        rows = [*_ends(gross, visit, said), *_by(gross, before, said, request.access.mass_unit), ("When", _when(form))]
        then = " ".join([doubt, *said.lines]).strip()
        return read_back(request, form, rows, then=then, facts=facts, files=sent_photos(form))
    if visit is None:
        act = form.act(request.access, remark=form.cleaned_data["note"])
        entry = onscale.weigh(request.book, act, gross, taken=taken_in(form))
        return written(request, form, entry, "cylinder-weigh", gross.account.number)
    act = form.act(request.access, context=visit.context, remark=form.cleaned_data["note"])
    deed = entering.StepFacts(doer=request.member.user, photos=taken_in(form))
    if said.change_mg > 0:
        entry = _recovered(request, form, visit, act, deed, gross)
    else:
        entry, _ = gas_in.charge(visit, act, deed, before=None, after=gross)
    return written(request, form, entry, "visit", visit.number)


def _doubt(visit: Visit | None, gross: Gross, said: Said) -> str:
    """Return what is asked before gas between a vehicle and the cylinder is written; empty where nothing is odd."""
    if visit is None or said.change_mg == 0:
        return ""
    return recovery_in_doubt(visit) if said.change_mg > 0 else charge_in_doubt(visit, gross.cylinder, elsewhere=True)


def _recovered(
    request: ShopRequest, form: WeighForm, visit: Visit, act: ledger.Act, facts: entering.StepFacts, gross: Gross
) -> Entry:
    """Write what came out of a vehicle. A refusal offers to write it all the same: both readings say it is in there."""
    try:
        entry, _ = gas_out.recover(
            visit,
            act,
            facts,
            gas=gas_of(visit),
            before=None,
            after=gross,
            jurisdiction=request.access.jurisdiction,
            happened=bool(form.data.get("happened")),
        )
    except Refused:
        form.fields["happened"] = happened_field()
        raise
    return entry


def _ends(gross: Gross, visit: Visit | None, said: Said) -> list[tuple[str, object]]:
    if visit is None:
        return [("Cylinder", gross.cylinder), ("Moved", "nothing")]
    vehicle = f"{visit.vehicle}, visit {visit.number}"
    pair = (gross.cylinder, vehicle) if said.change_mg <= 0 else (vehicle, gross.cylinder)
    return [("From", pair[0]), ("To", pair[1])]


def _by(gross: Gross, before: Weighing, said: Said, unit: str) -> list[tuple[str, object]]:
    readings = f"{before.said} on {before.scale} and {gross.said} on {gross.scale}"
    return [("Mass", scale_words.change_said(said.change_mg, said.u_mg, unit)), ("By", readings)]


def _when(form: WeighForm) -> str:
    return f"{timezone.localtime(form.occurred):%Y-%m-%d %H:%M}"
