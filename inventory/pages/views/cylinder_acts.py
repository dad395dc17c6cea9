"""Pages of the acts on cylinders: tare, transfer, grade, away and back, losses, the round of the floor."""

from collections.abc import Callable

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.views.decorators.http import require_http_methods

from inventory.acts import away, describing, grading, lost, onscale, partners, pouring, sister
from inventory.acts.away import Dispatch
from inventory.book import ledger
from inventory.book.refusals import LedgerError, Refused, RequestKeyReused
from inventory.book.weighing import Gross, Settled
from inventory.causes import CAUSES
from inventory.gases import filling, fluids, purity
from inventory.gases.cautions import cautions_for
from inventory.measure.displays import small
from inventory.measure.showing import show_mass
from inventory.models import AirCheck, Cylinder, Entry, Partner
from inventory.models.access import Access
from inventory.output.days import day
from inventory.pages.access import BookRequest, writer_required
from inventory.pages.forms.act import BookForm, page, read_back, see
from inventory.pages.forms.away import PURPOSES, BackForm, ChooseForm, SendForm, SisterForm
from inventory.pages.forms.cylinders import GrossForm, LossForm, Row, StockTakeForm, TareForm, TransferForm
from inventory.pages.forms.tested import AirForm, IdentifyForm, RegradeForm
from inventory.pages.running import ActPage, Understood, run, sent_before
from inventory.pages.views.cylinders import content_of, cylinder_of
from inventory.shelf import airchecks, queries
from inventory.shelf.limits import filling_limit

Content = tuple[str, str, int] | None
TO_AIR = "the air, on this workshop’s account"


def _mass(mass_mg: int, access: Access) -> str:
    return show_mass(mass_mg, unit="lb" if access.mass_unit == "lb" else "kg")


def _back(access: Access, cylinder: Cylinder) -> str:
    return reverse("cylinder", args=[access.slug, cylinder.account.number])


def _run(
    request: BookRequest,
    form: BookForm,
    shown: ActPage,
    cylinder: Cylinder,
    understood: Callable[[], Understood],
    write: Callable[[], Entry],
) -> HttpResponse:
    """Run an act on one cylinder: its facts stand above the form, and it leads back to the cylinder's page."""
    context = {
        "cylinder": cylinder,
        "content": content_of(cylinder),
        "last": ledger.last_weighing(cylinder.account),
    }
    number = cylinder.account.number
    return run(
        request, form, shown, understood=understood, write=write, to=lambda _: ("cylinder", number), context=context
    )


def _said(cylinder: Cylinder, content: Content, access: Access) -> str:
    return f"{cylinder}, {content[0]} {content[1]}, {_mass(content[2], access)}" if content else f"{cylinder}, empty"


def difference_sentence(settled: Settled, unit: str) -> str:
    """Return how a reading compares with the book."""
    gap = settled.difference_mg
    if gap == 0:
        return "as the book has it"
    said = f"{small(abs(gap), unit)} {'more' if gap > 0 else 'less'} than the book"
    tell = small(settled.can_tell_mg, unit)
    if settled.agrees:
        return f"{said}: agrees (the readings can tell {tell})"
    times = f"{abs(gap) / settled.can_tell_mg:.1f} times" if settled.can_tell_mg else "beyond"
    return f"{said}: unexplained, {times} what the readings can tell"


def _weighed_rows(request: BookRequest, gross: Gross) -> list[tuple[str, object]]:
    """Return the reading of an act and how it compares with the book, as it would be now."""
    settled, access = onscale.preview(request.book, gross), request.access
    inside = f"{_mass(settled.net_mg, access)}, {difference_sentence(settled, access.mass_unit)}"
    return [("Gross", f"{gross.said} on {gross.scale}"), ("Inside", inside)]


# --- empty mass, transfer, grade, identity --------------------------------------------------------------------


@writer_required
@require_http_methods(["GET", "POST"])
def tare(request: BookRequest, number: int) -> HttpResponse:
    """Give a cylinder its true empty mass."""
    found, access = cylinder_of(request, number), request.access
    content = content_of(found)
    form = TareForm(request.POST or None, cylinder=found, access=access)

    def understood() -> Understood:
        rows: list[tuple[str, object]] = [
            ("Cylinder", f"{found}, empty and evacuated"),
            ("Empty mass", f"{form.reading.said}, was {_mass(found.tare_mg, access)}"),
            ("Why", form.cleaned_data["reason"]),
        ]
        then = (
            f"The book’s {_mass(content[2], access)} in it goes to unexplained, as a tare corrected." if content else ""
        )
        return Understood(rows, then, always=True, facts=[content])

    def write() -> Entry:
        act = form.act(access, context=f"cylinder:{number}", remark=form.cleaned_data["reason"])
        return describing.correct_tare(request.book, act, form.reading)

    shown = ActPage(
        f"Correct the empty mass of {found}",
        "Correct the empty mass",
        _back(access, found),
        notes=["Only of a cylinder that is empty and evacuated. The earlier empty mass stays on its page."],
    )
    return _run(request, form, shown, found, understood, write)


@writer_required
@require_http_methods(["GET", "POST"])
def transfer(request: BookRequest, number: int) -> HttpResponse:
    """Move gas from one cylinder into another."""
    found, access = cylinder_of(request, number), request.access
    content = content_of(found)
    form = TransferForm(request.POST or None, cylinder=found, access=access)

    def understood() -> Understood:
        target = form.target_cylinder
        rows: list[tuple[str, object]] = [
            ("From", _said(found, content, access)),
            ("Into", _said(target, content_of(target), access)),
            *((name.capitalize(), f"{one.said} on {one.scale}") for name, one in form.readings.items()),
        ]
        return Understood(rows, room_sentence(target, content, access))

    def write() -> Entry:
        act = form.act(access, context=f"cylinder:{number}", remark=form.cleaned_data.get("note", ""))
        return pouring.transfer(
            request.book,
            act,
            source=found,
            target=form.target_cylinder,
            before=form.readings.get("before"),
            after=form.readings["after"],
            jurisdiction=access.jurisdiction,
            happened=bool(form.cleaned_data.get("happened")),
        )

    shown = ActPage(
        f"Move gas from {found} into another", "Write it in the book", _back(access, found), places=["transfer"]
    )
    return _run(request, form, shown, found, understood, write)


def room_sentence(target: Cylinder, content: Content, access: Access) -> str:
    """Return how much more a cylinder can take of a content, and by which rule; empty where no limit is known."""
    held = content_of(target)
    code = held[0] if held else (content[0] if content else target.refrigerant)
    limit = filling_limit(target, code, access.jurisdiction)
    if limit is None:
        return f"No filling limit is known for {target}: its water capacity or the gas’s figure is missing."
    room_mg = round(limit.max_net_g * 1000) - (held[2] if held else 0)
    return f"{target} can take {_mass(max(room_mg, 0), access)} more ({limit.words})."


@writer_required
@require_http_methods(["GET", "POST"])
def regrade(request: BookRequest, number: int) -> HttpResponse:
    """Change the grade of all that a cylinder holds."""
    found, access = cylinder_of(request, number), request.access
    content = content_of(found)
    form = RegradeForm(
        request.POST or None, cylinder=found, access=access, held_grade=content[1] if content else found.grade
    )

    def understood() -> Understood:
        rows: list[tuple[str, object]] = [
            ("Cylinder", _said(found, content, access)),
            ("It is now", form.cleaned_data["grade"]),
            ("What shows it", form.cleaned_data["evidence"]),
        ]
        return Understood(rows, always=form.cleaned_data["grade"] == "suspect", facts=[content])

    def write() -> Entry:
        act = form.act(access, context=f"cylinder:{number}", remark=form.cleaned_data["evidence"])
        return grading.regrade(request.book, act, found, grade=form.cleaned_data["grade"])

    shown = ActPage(f"Change the grade of {found}", "Change the grade", _back(access, found))
    return _run(request, form, shown, found, understood, write)


@writer_required
@require_http_methods(["GET", "POST"])
def identify(request: BookRequest, number: int) -> HttpResponse:
    """Enter that an identifier says a content is something else."""
    found, access = cylinder_of(request, number), request.access
    content = content_of(found)
    form = IdentifyForm(request.POST or None, cylinder=found, access=access)

    def understood() -> Understood:
        cleaned = form.cleaned_data
        shares = ", ".join(f"{code} {float(share) * 100:.1f} %" for code, share in cleaned["parts"].items())
        rows: list[tuple[str, object]] = [
            ("Cylinder", _said(found, content, access)),
            ("It is", cleaned["refrigerant"]),
            ("Shown", shares),
        ]
        return Understood(rows, "What is MIXED is suspect: to be reclaimed or destroyed.", always=True, facts=[content])

    def write() -> Entry:
        cleaned = form.cleaned_data
        act = form.act(access, context=f"cylinder:{number}", remark=cleaned.get("note", ""))
        return grading.reidentify(
            request.book,
            act,
            found,
            refrigerant=cleaned["refrigerant"],
            parts=cleaned["parts"],
            instrument=cleaned.get("instrument", ""),
        )

    shown = ActPage(
        f"{found} identified as another", "Write it in the book", _back(access, found), places=["identified"]
    )
    return _run(request, form, shown, found, understood, write)


# --- air in it ------------------------------------------------------------------------------------------------

REST_ASKED = purity.REST_CONDITIONS[0].lower() + purity.REST_CONDITIONS[1:]
ASKED_OF_AIR = ("pressure", "temperature")  # a link from the bench fills them in


@writer_required
@require_http_methods(["GET", "POST"])
def air(request: BookRequest, number: int) -> HttpResponse:
    """Judge a cylinder for air by its pressure after it has stood, and keep that with the cylinder."""
    found, access = cylinder_of(request, number), request.access
    content = content_of(found)
    workshop = getattr(request, "workshop", None)  # the floor above knows the units; without it, bar and Celsius
    form = AirForm(
        request.POST or None,
        cylinder=found,
        access=access,
        pressure_unit=getattr(workshop, "pressure_unit", "bar"),
        temperature_unit=getattr(workshop, "temperature_unit", "C"),
        initial={name: request.GET[name] for name in ASKED_OF_AIR if request.GET.get(name)},
    )
    if request.method == "POST" and form.is_valid():
        try:
            return _judge_air(request, form, found, content)
        except RequestKeyReused:
            return sent_before(request, form)
        except LedgerError as error:
            form.add_error(None, str(error))
    shown = ActPage(
        f"Air in {found}",
        "Keep it with the cylinder",
        _back(access, found),
        notes=[
            f"Asked before a reading counts: {REST_ASKED}",
            "Nothing moves by this: it is kept beside the cylinder.",
        ],
    )
    context = {"shown": shown, "cylinder": found, "content": content, "last": ledger.last_weighing(found.account)}
    return page(request, "inventory/act.html", form, cautions=cautions_for("receive"), **context)


def _judge_air(request: BookRequest, form: AirForm, cylinder: Cylinder, content: Content) -> HttpResponse:
    """Read a judged reading back, or keep it; a form that was kept already says so."""
    reading = form.air_reading
    if content is None:
        raise LedgerError(airchecks.NOTHING_HELD)
    judged = airchecks.judge(cylinder, content, reading)
    kept = AirCheck.objects.filter(request_key=form.request_key).exists()
    if not kept and form.needs_read_back(always=True, facts=[content]):
        rows: list[tuple[str, object]] = [
            ("Cylinder", _said(cylinder, content, request.access)),
            ("Pressure", form.cleaned_data["pressure"]),
            ("At", form.cleaned_data["temperature"]),
            ("Stood", form.cleaned_data.get("waited") or "not entered"),
            ("Out of the sun", form.cleaned_data.get("shaded") or "not entered"),
            ("Gauge", reading.gauge or "not entered: read to 1 psi (0.07 bar) is assumed"),
            ("When", form.cleaned_data.get("occurred_at") or "now"),
            ("Verdict", judged.verdict),
        ]
        submit = "Keep it with the cylinder"
        return read_back(request, form, rows, then=judged.words, facts=[content], submit=submit)
    _, is_new = airchecks.note_air_check(
        cylinder, reading, key=form.request_key, actor=request.access.actor, occurred_at=form.occurred
    )
    messages.info(request, "Kept with the cylinder." if is_new else "Already kept, once.")
    return see(request, "cylinder", cylinder.account.number)


# --- away and back --------------------------------------------------------------------------------------------


@writer_required
@require_http_methods(["GET", "POST"])
def send_away(request: BookRequest) -> HttpResponse:
    """Choose the cylinder that goes away."""
    form = ChooseForm(request.GET or None, cylinders=queries.standing_here(request.book))
    if request.GET and form.is_valid():
        return see(request, "cylinder-send", int(form.cleaned_data["cylinder"]))
    status = 422 if form.is_bound and form.errors else 200
    return render(request, "inventory/send_away.html", {"form": form}, status=status)


@writer_required
@require_http_methods(["GET", "POST"])
def send(request: BookRequest, number: int) -> HttpResponse:
    """Weigh a cylinder and send it away with all it holds."""
    found, access = cylinder_of(request, number), request.access
    content = content_of(found)
    form = SendForm(request.POST or None, cylinder=found, access=access)

    def understood() -> Understood:
        cleaned = form.cleaned_data
        rows: list[tuple[str, object]] = [
            ("Cylinder", f"{found}, {content[0]} {content[1]}" if content else f"{found}, empty by the book"),
            ("To", form.chosen_partner),
            ("What for", PURPOSES[cleaned["purpose"]][1]),
            *_weighed_rows(request, form.reading),
        ]
        temperature = cleaned.get("temperature")
        left = _left(request, form.reading, content)
        then = heel_sentence(found, left, temperature.si if temperature else None)
        return Understood(rows, then or f"{found} is then away.", always=True, facts=[content])

    def write() -> Entry:
        cleaned = form.cleaned_data
        dispatch = Dispatch(
            form.chosen_partner,
            PURPOSES[cleaned["purpose"]][0],
            cleaned["purpose"],
            cleaned.get("number", ""),
            cleaned.get("paper_number", ""),
        )
        act = form.act(access, context=f"cylinder:{number}", remark=cleaned.get("note", ""))
        return away.send_away(request.book, act, form.reading, dispatch)

    shown = ActPage(f"Send {found} away", "Send it away", _back(access, found), places=["send-away"])
    return _run(request, form, shown, found, understood, write)


def _left(request: BookRequest, gross: Gross, content: Content) -> Content:
    """Return what a reading says is left of a content."""
    return (content[0], content[1], onscale.preview(request.book, gross).net_mg) if content else None


def heel_sentence(cylinder: Cylinder, content: Content, temperature_k: float | None) -> str:
    """Return how much of what is left is vapour alone at a temperature; empty where nothing can be said."""
    if content is None or temperature_k is None or cylinder.water_capacity_m3 is None:
        return ""
    code, _, held_mg = content
    capacity = cylinder.water_capacity_m3
    try:
        vapour_g = filling.vapour_only_g(code, water_capacity_m3=capacity, temperature_k=temperature_k)
        share = filling.liquid_fraction(
            code, held_g=held_mg / 1000, water_capacity_m3=capacity, temperature_k=temperature_k
        )
        liquid_g = share * capacity * fluids.liquid_density_kg_m3(code, temperature_k) * 1000
    except fluids.FluidError as error:
        return str(error)
    celsius = temperature_k - fluids.ZERO_CELSIUS_K
    said = (
        f"Not empty: a {capacity * 1000:.3g} L bottle whose liquid is gone still holds about {vapour_g:.0f} g of "
        f"vapour at {celsius:.3g} °C"
    )
    return f"{said}; some {liquid_g:.0f} g is liquid." if liquid_g >= 1 else f"{said}."


@writer_required
@require_http_methods(["GET", "POST"])
def come_back(request: BookRequest, number: int) -> HttpResponse:
    """Take a cylinder that was away back onto the shelf."""
    found, access = cylinder_of(request, number), request.access
    sent = found.consignments.select_related("partner__account").order_by("-pk").first()
    last: Partner | None = sent.partner if sent else None
    form = BackForm(request.POST or None, cylinder=found, access=access, last=last)

    def understood() -> Understood:
        net_mg = max(form.reading.gross_mg - found.tare_mg, 0)
        cause = CAUSES[form.cleaned_data["cause"]].words
        rows: list[tuple[str, object]] = [
            ("Cylinder", found),
            ("From", f"{form.chosen_partner}, {cause}"),
            ("Gross", f"{form.reading.said} on {form.reading.scale}"),
            ("Inside", _mass(net_mg, access)),
        ]
        return Understood(rows, f"{found} then stands here.")

    def write() -> Entry:
        cleaned = form.cleaned_data
        papers = f"Papers {cleaned['paper_number']}" if cleaned.get("paper_number") else ""
        remark = ". ".join(part for part in (papers, cleaned.get("note", "")) if part)
        act = form.act(access, context=f"cylinder:{number}", remark=remark)
        return away.come_back(request.book, act, form.reading, form.chosen_partner, cause=cleaned["cause"])

    shown = ActPage(f"{found} came back", "Take it back", _back(access, found), places=["receive"])
    return _run(request, form, shown, found, understood, write)


@writer_required
@require_http_methods(["GET", "POST"])
def turned_up(request: BookRequest, number: int) -> HttpResponse:
    """Take a cylinder that the book thought gone or empty back onto the shelf, by its weighing."""
    found, access = cylinder_of(request, number), request.access
    form = GrossForm(request.POST or None, cylinder=found, access=access)

    def understood() -> Understood:
        net_mg = max(form.reading.gross_mg - found.tare_mg, 0)
        rows: list[tuple[str, object]] = [
            ("Cylinder", found),
            ("Gross", f"{form.reading.said} on {form.reading.scale}"),
            ("From unexplained", _mass(net_mg, access)),
        ]
        return Understood(rows, f"{found} then holds {_mass(net_mg, access)} and stands here.", always=True)

    def write() -> Entry:
        return lost.turn_up(request.book, form.act(access, context=f"cylinder:{number}"), form.reading)

    shown = ActPage(f"{found} turned up", "Take it onto the shelf", _back(access, found), places=["weigh"])
    return _run(request, form, shown, found, understood, write)


@writer_required
@require_http_methods(["GET", "POST"])
def loss(request: BookRequest, number: int) -> HttpResponse:
    """Enter that gas left a cylinder other than into a vehicle, a cylinder or a consignment."""
    found, access = cylinder_of(request, number), request.access
    content = content_of(found)
    form = LossForm(
        request.POST or None, cylinder=found, access=access, held_code=content[0] if content else found.refrigerant
    )

    def understood() -> Understood:
        cleaned = form.cleaned_data
        to = {"missing": "unexplained", "was-oil": "opening: it never was refrigerant"}.get(cleaned["cause"], TO_AIR)
        rows: list[tuple[str, object]] = [
            ("From", _said(found, content, access)),
            ("To", to),
            ("What happened", CAUSES[cleaned["cause"]].words),
            *_lost_rows(form, content, access),
            ("How it is known", cleaned["reason"]),
        ]
        return Understood(rows, always=True, facts=[content])

    def write() -> Entry:
        act = form.act(access, context=f"cylinder:{number}", remark=form.cleaned_data["reason"])
        before, after = form.readings.get("before"), form.readings.get("after")
        return lost.lose(request.book, act, found, form.cleaned_data["cause"], before=before, after=after)

    shown = ActPage(f"Gas lost from {found}", "Write the loss in the book", _back(access, found), places=["weigh"])
    return _run(request, form, shown, found, understood, write)


def _lost_rows(form: LossForm, content: Content, access: Access) -> list[tuple[str, object]]:
    after = form.readings.get("after")
    if after is None:
        return [("Mass", f"{_mass(content[2], access)}, all that it held" if content else "nothing")]
    before = form.readings.get("before")
    rows: list[tuple[str, object]] = []
    if before is not None:
        rows.append(("Before", f"{before.said} on {before.scale}"))
    rows.append(("After", f"{after.said} on {after.scale}"))
    start = before.gross_mg - form.cylinder.tare_mg if before else (content[2] if content else 0)
    rows.append(("Mass", _mass(start - (after.gross_mg - form.cylinder.tare_mg), access)))
    return rows


@writer_required
@require_http_methods(["GET", "POST"])
def to_sister(request: BookRequest, number: int) -> HttpResponse:
    """Move a cylinder with its content into the book of another workshop of the same person."""
    found, access = cylinder_of(request, number), request.access
    content = content_of(found)
    form = SisterForm(request.POST or None, cylinder=found, access=access, books=access.other_books())

    def understood() -> Understood:
        rows: list[tuple[str, object]] = [
            ("Cylinder", _said(found, content, access)),
            ("To", form.sister),
            *_weighed_rows(request, form.reading),
        ]
        return Understood(rows, "Both books get a line, in one go.", always=True, facts=[content])

    def write() -> Entry:
        act = form.act(access, context=f"cylinder:{number}", remark=form.cleaned_data.get("note", ""))
        there, here = (
            partners.sister_partner(request.book, form.sister),
            partners.sister_partner(form.sister, request.book),
        )
        return sister.move_to_sister(act, form.reading, there, here)[0]

    shown = ActPage(f"Move {found} to another workshop", "Move it", _back(access, found), places=["send-away"])
    return _run(request, form, shown, found, understood, write)


# --- the round of the floor -----------------------------------------------------------------------------------


@writer_required
@require_http_methods(["GET", "POST"])
def stock_take(request: BookRequest) -> HttpResponse:
    """Weigh the cylinders on the floor in one round."""
    access = request.access
    found = list(
        queries.cylinders(request.book, access.jurisdiction).exclude(word__in=Cylinder.GONE).exclude(kind=Cylinder.TANK)
    )
    found.sort(key=lambda cylinder: (cylinder.place, cylinder.serial))
    form = StockTakeForm(request.POST or None, access=access, rows=[_row(cylinder) for cylinder in found])

    def understood() -> Understood:
        rows: list[tuple[str, object]] = []
        for name, gross in form.readings.items():
            try:
                settled = onscale.preview(request.book, gross)
            except LedgerError as error:
                form.add_error(name, str(error))
                continue
            net = f"{gross.said} gross, {_mass(settled.net_mg, access)} inside"
            rows.append((str(gross.cylinder), f"{net}, {difference_sentence(settled, access.mass_unit)}"))
        if form.errors:
            raise Refused("Nothing is written yet: look at the readings below.")
        left_out = len(form.rows) - len(form.readings)
        then = f"{left_out} not weighed in this round." if left_out else "Every cylinder on the floor was weighed."
        return Understood(rows, then, always=True)

    def write() -> Entry:
        act = form.act(access, context="stock-take", remark=form.cleaned_data.get("note", ""))
        return onscale.stock_take(request.book, act, list(form.readings.values()))

    shown = ActPage(
        "Stock-take",
        "Write it in the book",
        reverse("cylinders", args=[access.slug]),
        notes=[
            "One round of the floor: weigh each cylinder and enter its gross. What is left empty was not weighed. "
            "A machine’s tank is read on its machine, so it is not in the list."
        ],
        places=["weigh"],
    )
    return run(request, form, shown, understood=understood, write=write, to=lambda entry: ("entry", entry.seq))


def _row(cylinder: Cylinder) -> Row:
    place = cylinder.place or "place not entered"
    return Row(cylinder, f"{place}; {cylinder.code} {cylinder.in_grade}; {_last(cylinder)}")  # type: ignore[attr-defined] # annotated


def _last(cylinder: Cylinder) -> str:
    weighed = cylinder.last_weighed_at  # type: ignore[attr-defined] # annotated by the query
    return f"last weighed {day(weighed)}" if weighed else "never weighed"
