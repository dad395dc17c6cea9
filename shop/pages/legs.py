"""One leg of a recovery or a charge as its form has it: what is understood of it, and what is written."""

from dataclasses import dataclass
from typing import Any

from django.core.exceptions import ValidationError

from inventory.book.weighing import Gross
from inventory.gases.hose import hose_content
from inventory.measure.displays import moved
from inventory.measure.own import Units
from inventory.measure.spoken import in_own_units
from inventory.models import Cylinder, Entry, Weighing
from inventory.output.days import when
from inventory.pages.fields.sent import Sent
from inventory.pages.forms.photos import sent_photos
from inventory.pages.forms.weighing import reading_of
from inventory.pages.running import Understood
from inventory.shelf.queries import content_of
from shop.bench import charging
from shop.models import Visit
from shop.pages.forms.keeping import nameplate_of
from shop.pages.forms.usual import leg_doubt
from shop.pages.forms.visits import StepForm
from shop.pages.found import remember_scale
from shop.pages.goingon import charged_mg
from shop.pages.middleware import ShopRequest
from shop.visits import scale as scale_words
from shop.visits.acts import gas_in, gas_out
from shop.visits.doubts import ASKED_IF_IT_WAS, charge_in_doubt, past_label, read_again
from shop.visits.gas import FromVehicle, label_of, lines_of, living
from shop.visits.inputs import CANNOT
from shop.visits.proofs import u_parts
from shop.visits.scale import Target

CANNOT_SHOW = (
    "The step stays open until you write it: go back and read the cylinder again on the scale of its first reading, or "
    "write these readings as they are."
)
BEFORE_STANDS = (
    "A reading before was written meanwhile: {said}. The one typed here, {typed}, was not. Write the leg by the one "
    "that stands, or read the cylinder again."
)
HOSE_BORE_M, HOSE_K, YARD_M = 0.0048, 293.15, 0.9144  # the bore is 3/16 inch to a hundredth

Rows = list[tuple[str, object]]


@dataclass
class Leg:
    """A leg between the vehicle of a visit and a cylinder; `gas` is what comes out of the vehicle, None for a charge.

    `becomes` says what an empty cylinder is by this, where it was entered for something else.
    """

    request: ShopRequest
    visit: Visit
    form: StepForm
    cylinder: Cylinder
    gas: FromVehicle | None = None
    becomes: str = ""

    def doubt(self, much: str, charged_mg: int) -> str:
        """Return what is asked before it is written; empty where nothing is odd."""
        if self.gas is not None:
            return much
        of_gas, onto = charge_in_doubt(self.visit, self.cylinder), self._past_label(charged_mg)
        return " ".join(filter(None, (of_gas, onto, much)))

    def _past_label(self, charged_mg: int) -> str:
        """Return what is asked of a charge onto what is inside; beside its answer where that is not given yet."""
        question = past_label(self.visit, charged_mg, self.form.units.small_mass_said)
        if question and not self.form.cleaned_data.get("onto") and "onto" in self.form.fields:
            self.form.add_error("onto", f"{question} Say here how it comes onto what is inside.")
        return f"{question} {ASKED_IF_IT_WAS}" if question else ""

    def rows(self, vehicle: object, cylinder: object, *more: tuple[str, object]) -> Rows:
        """Return the rows of what is read back: from, to, and what else is said."""
        ends = (self.cylinder, vehicle) if self.gas is None else (vehicle, cylinder)
        becomes: Rows = [("Cylinder", f"{self.cylinder}, {self.becomes}")] if self.becomes else []
        return [("From", ends[0]), ("To", ends[1]), *more, *becomes]


@dataclass
class LegByReadings(Leg):
    """A leg by two readings of a cylinder; `open_before` is the first where it stands in the book already."""

    open_before: Weighing | None = None
    before: Gross | None = None
    after: Gross | None = None

    def understood(self) -> Understood:
        """Return what is read back; what is wrong is put on the form."""
        form, gains, unit = self.form, self.gas is not None, self.request.access.units.mass
        if typed := form.left_over("before"):
            stands = self.open_before.said if self.open_before else ""
            form.add_error("after", BEFORE_STANDS.format(said=stands, typed=typed))
            return Understood(())
        self.before, after = readings(form, self.cylinder, visit=self.visit, gains=gains)
        if after is None or form.errors:
            return Understood(())
        self.after = after
        remember_scale(self.request, after.scale)
        target = target_of(form, self.visit)
        said = scale_words.second_reading(self.request.book, self.before, after, form.occurred, unit, target)
        much = leg_doubt(form, "after", self.visit, said.change_mg, after, gains=gains)
        again = read_again(self.cylinder, self.before, after) if self.before else ""
        doubt = " ".join(filter(None, (again, self.doubt(much, -said.change_mg))))
        open_yet = not gains and not said.shows
        suspect = self.gas is not None and self.gas.grade == "suspect"
        return Understood(
            self.rows(
                f"{self.visit.vehicle}, visit {self.visit.number}",
                f"{self.cylinder}, as {self.gas.refrigerant} {self.gas.grade}" if self.gas else "",
                ("Mass", scale_words.change_said(said.change_mg, said.u_mg, unit)),
                ("When", when(form.occurred, form.units)),
            ),
            then=" ".join(filter(None, (doubt, *said.lines, CANNOT_SHOW if open_yet else ""))),
            always=open_yet or bool(doubt or self.becomes or said.gap) or suspect,
            plain=said.plain,
            facts=[*said.facts, self.open_before.pk if self.open_before else 0],
            files=sent_photos(form),
        )

    def write(self) -> Entry:
        """Write the leg."""
        assert self.after is not None  # noqa: S101 - understood
        form = self.form
        act = form.act(self.request.access, context=self.visit.context, remark=form.cleaned_data["note"])
        if self.gas is None:
            return gas_in.charge(self.visit, act, form.facts, before=self.before, after=self.after)[0]
        return gas_out.recover(
            self.visit,
            act,
            form.facts,
            gas=self.gas,
            before=self.before,
            after=self.after,
            jurisdiction=self.request.access.jurisdiction,
            happened=bool(form.cleaned_data.get("happened")),
        )[0]


@dataclass
class LegByFigure(Leg):
    """A leg by the figure that a machine shows, or by counted cans."""

    mass_mg: int = 0

    def understood(self) -> Understood:
        """Return what is read back; what is wrong is put on the form."""
        form, gains = self.form, self.gas is not None
        counted = "cans" in form.fields
        if counted:
            self.mass_mg = round(form.cleaned_data["cans"][1]) * int(self.cylinder.can_content_mg or 0)
        else:
            self.mass_mg = form.cleaned_data["shown"].mg
        if counted and self.mass_mg <= 0:
            form.add_error("cans", "Enter how many cans, and on the lot’s page what one can holds.")
        elif not gains and self.mass_mg <= 0:
            form.add_error("shown", "Nothing was charged by this figure. Read the machine again.")
        if form.errors:
            return Understood(())
        much = ""
        if not counted and self.mass_mg:
            change_mg = self.mass_mg if gains else -self.mass_mg
            much = leg_doubt(form, "shown", self.visit, change_mg, gains=gains)
        doubt = self.doubt(much, self.mass_mg)
        mass = moved(self.mass_mg, self.request.access.units.mass)
        rows = self.rows(self.visit.vehicle, self.cylinder, ("Mass", mass))
        asked = bool(doubt or self.becomes)
        return Understood(rows, then=doubt, always=asked, plain=not asked, files=sent_photos(form))

    def write(self) -> Entry:
        """Write the leg."""
        form, cleaned = self.form, self.form.cleaned_data
        act = form.act(self.request.access, context=self.visit.context, remark=cleaned["note"])
        if self.gas is None:
            basis = "count" if "cans" in form.fields else "machine"
            return gas_in.charge_shown(
                self.visit, act, form.facts, source=self.cylinder, mass_mg=self.mass_mg, basis=basis
            )[0]
        purged = cleaned.get("purged")
        return gas_out.recover_by_machine(
            self.visit,
            act,
            form.facts,
            tank=self.cylinder,
            refrigerant=self.gas.refrigerant,
            recovered_mg=self.mass_mg,
            purged_mg=purged.mg if purged else 0,
        )[0]


def readings(
    form: StepForm, cylinder: Cylinder, *, visit: Visit, gains: bool | None, in_doubt: bool = False
) -> tuple[Gross | None, Gross | None]:
    """Return the readings before (None where it stands already) and after; what is wrong is on the form."""
    scale = form.cleaned_data.get("scale")
    before = reading_of(form, "before", cylinder, scale, in_doubt=in_doubt) if "before" in form.fields else None
    target = target_of(form, visit) or _by_label(visit, cylinder, gains=gains)
    expected = scale_words.leg_expected(before, gains=gains, label_mg=target.mass_mg, already_mg=target.already_mg)
    return before, reading_of(form, "after", cylinder, scale, expected, in_doubt=in_doubt)


def _by_label(visit: Visit, cylinder: Cylinder, *, gains: bool | None) -> Target:
    """Return what a leg is likely to come to without a target: the label's mass, less what was charged of its gas."""
    code, label_mg = label_of(visit)
    if gains or not label_mg:
        return Target(label_mg or 0)
    return Target(label_mg, already_mg=charged_mg(visit)) if code == holds(cylinder) else Target(0)


def target_of(form: StepForm, visit: Visit) -> Target | None:
    """Return what is to be charged in all, with what the legs before have put in."""
    target, tolerance = form.cleaned_data.get("target"), form.cleaned_data.get("tolerance")
    if not target:
        return None
    before = lines_of(living(visit, "charge"), "charge")
    return Target(target.mg, tolerance.mg if tolerance else 0, sum(int(one.mass_mg) for one in before), u_parts(before))


def target_known(visit: Visit, cylinder: Cylinder, units: Units) -> dict[str, Any]:
    """Return target and tolerance as they stand in the form at first: by the label, where it is for what is charged."""
    code, mass_mg = label_of(visit)
    if code != holds(cylinder):
        return {}
    known = nameplate_of(visit.vehicle, units)
    if "target" not in known and mass_mg:
        known["target"] = Sent(*units.small_mass_typed(mass_mg))
    return known


def stop_words(form: StepForm, visit: Visit, before: Weighing, unit: str) -> str:
    """Say at which gross the target that stands in the form is reached; empty where none can be read."""
    field, typed = form.fields["target"], form["target"].value()
    try:
        found = field.clean(typed) if typed else None
    except ValidationError:
        return ""
    return scale_words.stop_said(before, found.mg, charged_mg(visit), unit) if found else ""


def holds(cylinder: Cylinder) -> str:
    """Return the refrigerant that a cylinder holds; empty where it holds none."""
    content = content_of(cylinder.account)
    return content[0] if content else ""


def estimate(visit: Visit, cylinder: Cylinder) -> str:
    """Say what common practice makes of the old label where another refrigerant is charged; empty elsewhere."""
    (old, label_mg), new = label_of(visit), holds(cylinder)
    if not label_mg or old == new:
        return ""
    try:
        return charging.from_old_label(old_refrigerant=old, new_refrigerant=new, label_g=label_mg / 1000)
    except CANNOT:
        return ""


def hose_words(cylinder: Cylinder, units: Units) -> str:
    """Say what stands in a metre or yard of hose, as the scale counts it as charged; empty without property data."""
    code, customary = holds(cylinder), units.in_pounds
    try:
        held = hose_content(code, length_m=YARD_M if customary else 1.0, bore_m=HOSE_BORE_M, temperature_k=HOSE_K)
    except (*CANNOT, ValueError):
        return ""
    hose = "A yard of hose of 3/16 inch bore" if customary else "A metre of hose of 4.8 mm bore"
    return in_own_units(
        f"{hose} holds about {held.liquid_g:.0f} g {code} as liquid, {held.vapour_g:.1f} g as "
        "vapour, at 20 C. The scale counts it as charged: pull the hose empty before the reading after.",
        units,
    )
