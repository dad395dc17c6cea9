"""Forms of the steps that move gas: a leg of a recovery, a leg of a charge, what is left settled."""

from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import Any

from django import forms

from inventory.measure.own import Units
from inventory.models import Cylinder, Scale
from inventory.pages.fields.quantity import MassField, QuantityField
from inventory.pages.fields.scale import ScaleField
from inventory.pages.fields.sent import Sent
from inventory.pages.forms.photos import PhotosField
from inventory.pages.forms.weighing import gross_field
from shop.bench.evidence import Remainder
from shop.pages.forms.stepfields import Making, NumberField
from shop.pages.forms.visits import PHOTOS, StepForm, step_form
from shop.pages.forms.weigh import ECHO_WITH, box, happened_field
from shop.visits.acts import gas_out
from shop.visits.kinds import BY_NAME
from shop.visits.steps import REQUIRED

REST = (
    ("road", "lost on the road before it came"),
    ("hands", "lost in our hands"),
    ("shortfall", "short, nothing explains it"),
    ("stays", "still in the vehicle"),
)
ASKED_FIRST = ("final_pressure", "waited", "pressure_after_wait", "target", "tolerance", "onto")
"""What a leg, or the question right after it, needs beside the readings; the rest of it is folded."""
GONE = ("hands", "road", "shortfall")  # the masses that a person may type beside the bound


def leg_form(
    kind: str, making: Making, cylinder: Cylinder, scales: Sequence[Scale], *, is_open: bool, echo: str, happened: bool
) -> type[StepForm]:
    """Return the form of one leg between a vehicle and `cylinder`; `is_open`: its reading before stands already."""
    if cylinder.kind == Cylinder.TANK:
        fields = _machine(kind)
    elif cylinder.kind == Cylinder.CANS:
        fields = {"cans": NumberField(label="Cans emptied into it", what="number of cans", unit="cans", whole=True)}
    else:
        fields = _readings(scales, is_open=is_open, echo=echo)
    if happened:
        fields["happened"] = happened_field()
    form = step_form(BY_NAME[kind], making, fields | _photos(cylinder), photos=True)
    later = [one.name for one in form.kind.fields if one.need != REQUIRED and one.name not in ASKED_FIRST]
    form.folded = ["scale", "restarted", *later]
    form.folded_words = "More: scale, how it was done, when, who, note, photos"
    return form


def _photos(cylinder: Cylinder) -> dict[str, forms.Field]:
    """Return the fields for pictures of what the mass was read from, and of the gauge."""
    if cylinder.kind == Cylinder.TANK:
        read = PhotosField(label="Photos of the machine’s display")
    elif cylinder.kind == Cylinder.CANS:
        read = PhotosField(label="Photos of the cans")
    else:
        read = PhotosField(label="Photos of the scale, before and after", shows="scale")
    return {PHOTOS: read, "gauge_photos": PhotosField(label="Photos of the gauge", shows="gauge", help_text="")}


def _machine(kind: str) -> dict[str, forms.Field]:
    if kind == "charge":
        return {"shown": MassField(label="Charged, as the machine shows", what="charged mass", default_unit="g")}
    return {
        "shown": MassField(
            label="Recovered, as the machine shows",
            what="recovered mass",
            default_unit="g",
            help_text="0 is an answer too.",
        ),
        "purged": MassField(label="Purged off the top", what="purged mass", default_unit="g", required=False),
    }


def _readings(scales: Sequence[Scale], *, is_open: bool, echo: str) -> dict[str, forms.Field]:
    fields: dict[str, forms.Field] = {}
    if not is_open:
        fields["before"] = gross_field("Gross before", what="gross mass before")
    after = gross_field("Gross after", what="gross mass after")
    after.echo_url, after.echo_include = echo, ECHO_WITH + ", [name^=target], [name^=tolerance]"
    after.missing_words = (
        "" if is_open else "Has the gas not moved yet? Then press “Only the reading before now”, at the end."
    )
    fields["after"] = after
    fields["scale"] = ScaleField(scales)
    fields["restarted"] = box("The scale was switched off, moved or zeroed between the two")
    return fields


def remainder_form(making: Making, codes: Sequence[str]) -> type[StepForm]:
    """Return the form that settles what the book still has in a vehicle, of the refrigerants `codes`."""

    def mass(label: str, what: str, hint: str = "") -> QuantityField:
        return MassField(label=label, what=what, default_unit="g", required=False, help_text=hint)

    fields: dict[str, forms.Field] = {}
    if len(codes) > 1:
        fields["refrigerant"] = forms.ChoiceField(label="Refrigerant", choices=[(code, code) for code in codes])
    fields["bound"] = mass(
        "At most still inside when the vacuum pump began",
        "bound",
        "From pressure, temperature and volume, the oil’s share too. Half of it is written as pumped out; "
        "the true mass lies anywhere between nothing and it.",
    )
    fields["hands"] = mass("Lost in our hands", "mass lost in our hands", "Hose burst, core out, opened under pressure")
    fields["road"] = mass("Lost on the road before it came", "mass lost on the road")
    fields["shortfall"] = mass("Short, nothing explains it", "mass that is short")
    fields["rest"] = forms.ChoiceField(
        label="What then remains",
        choices=REST,
        widget=forms.RadioSelect,
        error_messages={"required": "Say what became of the rest."},
    )
    form = step_form(BY_NAME["remainder settled"], making, fields, photos=True)
    form.photos_later = True
    return form


def filled(remainder: Remainder | None, units: Units, *, stays: bool = False) -> dict[str, Any]:
    """Return what stands in the form at first: the computed bound and what the rest would be put down to.

    `stays`: gas was charged since, so what then remains stays in the vehicle, and the loss is filled in as a mass.
    """
    if remainder is None:
        return {}
    gone = "road" if remainder.road_g else "shortfall"
    if stays:
        loss = Sent(*units.about_typed(remainder.road_g + remainder.unexplained_g))
        return {**filled(remainder, units), gone: loss, "rest": "stays"}
    letter = remainder.evidence_letter
    evidence = next(one for one in BY_NAME["remainder settled"].field("evidence").choices if one.startswith(letter))
    bound = Sent(*units.about_typed(remainder.residue_bound_g))
    return {"bound": bound, "evidence": evidence, "rest": gone}


def split(cleaned: Mapping[str, Any], held_mg: int) -> tuple[int, gas_out.Remainder]:
    """Return the bound of what was still inside, in milligrams, and where it all went; the residue is half the bound.

    The rest goes where `rest` says; less than nothing is not made up: the act refuses what the vehicle has not.
    """

    def mg(name: str) -> int:
        return int(cleaned[name].mg) if cleaned.get(name) is not None else 0

    bound_mg = mg("bound")
    parts = gas_out.Remainder(
        residue_mg=round(bound_mg / 2),
        residue_u_mg=round(bound_mg / 12**0.5),
        **{f"{name}_mg": mg(name) for name in GONE},
    )
    rest_mg = held_mg - parts.named_mg
    if cleaned["rest"] != "stays" and rest_mg > 0:
        field = f"{cleaned['rest']}_mg"
        parts = replace(parts, **{field: getattr(parts, field) + rest_mg})
    return bound_mg, parts
