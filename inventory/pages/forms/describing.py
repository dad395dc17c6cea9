"""The form of what a cylinder is: no mass changes by it."""

from decimal import Decimal
from typing import Any, ClassVar

from django import forms

from inventory.causes import GRADES
from inventory.models import Cylinder
from inventory.models.access import Access
from inventory.pages.fields.day import DayField, PastDayField
from inventory.pages.fields.quantity import MassField, PressureField, WaterCapacityField
from inventory.pages.forms.act import PlainForm
from inventory.pages.forms.heel import HEEL, IN_US, heel_day_field, heel_statement_field, judge_heel
from inventory.pages.forms.parts import choice, refrigerant_choices, set_choices, si_of, text, typed_of
from inventory.pages.forms.stamps import (
    ask_about_capacity,
    ask_about_limit,
    serial_field,
    serial_of_no_other,
    stamped_facts,
)
from inventory.shelf.queries import content_of


class EditForm(PlainForm):
    """What a cylinder is and where it stands; no mass changes here."""

    serial = serial_field()
    kind = choice("Kind", [(kind, kind) for kind in Cylinder.KINDS], radio=True)
    refrigerant = choice("What it is for", (), what="refrigerant")
    grade = choice("Grade it is for", [(grade, grade) for grade in GRADES])
    state = choice(
        "State",
        [("ready", "ready"), ("put aside", "put aside: damaged, leaking, waiting"), ("suspect", "suspect")],
        radio=True,
    )
    place = text("Where it stands", required=False)
    water_capacity = WaterCapacityField(label="Water capacity", what="water capacity", required=False)
    filling_limit = MassField(label="Filling limit as stamped", what="filling limit", required=False)
    service_pressure = PressureField(label="Service pressure", what="service pressure", required=False)
    requalify_by = DayField(label="Next test date", required=False)
    machine_limit = MassField(
        label="Machine good to, give or take",
        what="limit of the machine",
        units=("g", "oz"),
        default_unit="g",
        required=False,
    )
    recycles = forms.BooleanField(label="The machine recycles this refrigerant to its standard", required=False)
    certified_on = PastDayField(
        label="Certified to the authority on",
        required=False,
        help_text="The day on which the workshop sent the machine’s certification.",
    )
    heel_removed_on = heel_day_field()
    heel_statement = heel_statement_field()
    paper_number = text("Number of the paper", required=False)

    def __init__(self, *args: Any, cylinder: Cylinder, access: Access, **options: Any) -> None:
        self.cylinder = cylinder
        plain = ["serial", "kind", "refrigerant", "grade", "state", "place", "requalify_by", "recycles", "paper_number"]
        initial = {name: getattr(cylinder, name) for name in [*plain, *self.OF_LAW]}
        typed = cylinder.typed or {}
        quantities = ("water_capacity", "filling_limit", "service_pressure", "machine_limit")
        initial |= {name: typed.get(name, "") for name in quantities}
        water = access.units.water_typed(cylinder.water_capacity_m3) if cylinder.water_capacity_m3 else None
        initial["water_capacity"] = initial["water_capacity"] or water or ""
        if not initial["service_pressure"] and cylinder.service_pressure_pa:
            initial["service_pressure"] = f"{cylinder.service_pressure_pa / 1000:.10g} kPa absolute"
        if not initial["machine_limit"] and cylinder.machine_limit_mg:
            initial["machine_limit"] = f"{Decimal(cylinder.machine_limit_mg) / 1000:f} g"
        super().__init__(*args, access=access, initial=initial, **options)
        self.fields["water_capacity"].stands = water  # type: ignore[attr-defined] # of this class's own field
        set_choices(self, "refrigerant", refrigerant_choices(access.book))
        if content_of(cylinder.account) is not None:
            del self.fields["refrigerant"], self.fields["grade"]
        if cylinder.is_gone:
            del self.fields["state"]
        kind = self.data.get("kind") if self.is_bound else cylinder.kind
        for name in self.OF_FILLED if kind in (Cylinder.TANK, Cylinder.CANS) else ():
            del self.fields[name]
        for name in self.OF_MACHINE if kind != Cylinder.TANK else ():
            del self.fields[name]
        for name in self.OF_LAW:
            if access.jurisdiction != IN_US or kind != self.OF_LAW[name]:
                del self.fields[name]

    OF_FILLED = ("water_capacity", "filling_limit", "service_pressure", "requalify_by")
    OF_MACHINE = ("machine_limit", "recycles")
    OF_LAW: ClassVar = {"certified_on": Cylinder.TANK, **dict.fromkeys(HEEL, Cylinder.SINGLE_TRIP)}

    def clean_serial(self) -> str:
        return serial_of_no_other(self, self.cylinder)

    @property
    def reads_gauges(self) -> bool:
        """No: its one pressure is stamped."""
        return False

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or self.cleaned_data
        ask_about_limit(self)
        judge_heel(self)
        if si_of(cleaned.get("water_capacity")) != self.cylinder.water_capacity_m3:
            ask_about_capacity(self, self.cylinder.tare_mg)
        return cleaned

    def facts(self) -> dict[str, Any]:
        """Return the facts to be kept; only of a form that is valid. What does not apply to its kind is not kept."""
        of = self.cleaned_data.get
        plain = ["serial", "kind", "refrigerant", "grade", "state", "place", "paper_number", *self.OF_LAW]
        facts = {name: self.cleaned_data[name] for name in plain if name in self.fields}
        typed = dict(self.cylinder.typed or {})
        for name in ("water_capacity", "filling_limit", "service_pressure", "machine_limit"):
            typed[name] = "" if of(name) is None else typed_of(of(name))
        return {**facts, **stamped_facts(self), "typed": typed}
