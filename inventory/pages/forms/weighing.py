"""What the forms of every weighing share: the scale, the gross reading, and when a reading is refused or asked about.

A reading that cannot be (`shelf.plausible`) is refused. One between the steps of its scale, and one that is far
from usual, is a question: the displays beside it and the slips that would explain it are offered, and what was typed
may be insisted on.
"""

from collections.abc import Sequence
from typing import Any

from django import forms

from inventory.book import emptymass, ledger, weighing
from inventory.book.weighing import Gross
from inventory.measure import wire
from inventory.measure.masses import Mass
from inventory.models import Cylinder, Scale
from inventory.models.access import Access
from inventory.pages.fields.quantity import MassField
from inventory.pages.fields.scale import ScaleField
from inventory.pages.fields.sent import Choice
from inventory.pages.forms.slips import as_typed, ask, refuse, sent_of, slip_choices
from inventory.shelf import queries
from inventory.shelf.plausible import Expected, Judge

NOTHING_KNOWN = Expected()


def scale_field(access: Access, **options: Any) -> ScaleField:
    """Return the field for the scale; where the book has one alone it is chosen."""
    scales = queries.scales_of(access.book)
    if len(scales) == 1:
        options.setdefault("initial", str(scales[0].number))
    return ScaleField(scales, **options)


def gross_field(label: str = "Gross on the scale", **options: Any) -> MassField:
    """Return the field of a gross reading; it begins with what its scale shows, see `ScaleField`."""
    options.setdefault("what", "gross mass")
    return MassField(label=label, from_scale=True, **options)


def reading_of(
    form: forms.Form,
    name: str,
    cylinder: Cylinder,
    scale: Scale | None,
    expected: Expected = NOTHING_KNOWN,
    *,
    in_doubt: bool = False,
) -> Gross | None:
    """Return the reading in field `name`, or None where there is none; adds the refusal or question to the form.

    `in_doubt`: a reading that is asked about is returned as well, for an echo that says what it would mean.
    """
    mass = form.cleaned_data.get(name)
    if not isinstance(mass, Mass) or scale is None:
        return None
    raw = _sent_by_wire(form, name, mass)
    shown_mg = wire.read(raw, mass, scale.step) if raw else scale.step.read(mass)
    restarted = bool(form.cleaned_data.get("restarted"))
    read_mg = mass.mg if shown_mg is None else shown_mg
    gross = Gross(cylinder, scale, read_mg, as_typed(form, name), restarted, raw)
    access: Access | None = getattr(form, "access", None)
    unit = access.units.mass if access else "kg"
    if (held_mg := _held_without_tare(gross, expected)) is not None:
        refused, question = _doubt_of_tare(form, name, gross, held_mg, unit)
        if refused or (question and not in_doubt):
            return None
    judge = Judge(gross, expected, unit, access.jurisdiction if access else "")

    def possible(other: Mass) -> bool:
        mg = scale.step.read(other)
        return mg is not None and judge.cannot(mg) is None

    def usual(other: Mass) -> bool:
        mg = scale.step.read(other)
        return mg is not None and judge.doubt(mg) is None and judge.near(mg)

    if (sentence := judge.cannot(gross.gross_mg)) is not None:
        refuse(form, name, sentence, possible=possible, likely=usual)
        return None
    if shown_mg is None:
        asked = ask(form, name, _off_step(gross, mass), first=scale.step.beside(mass))
        return gross if in_doubt or not asked else None
    question = judge.doubt(gross.gross_mg)
    if question is None and judge.compares() and not judge.agrees(gross.gross_mg):
        slips = slip_choices(form, name, possible=lambda other: possible(other) and usual(other))
        question = f"{judge.apart(gross.gross_mg)} Was it {listed(slips)}?" if slips else None
    asked = question is not None and ask(form, name, question, possible=possible, likely=usual)
    return gross if in_doubt or not asked else None


def _sent_by_wire(form: forms.Form, name: str, mass: Mass) -> str:
    """Return the record of the scale that sent this reading; empty where a person typed or changed it."""
    record = sent_of(form, name).raw
    return record if wire.says(record, mass) else ""


def _held_without_tare(gross: Gross, expected: Expected) -> int | None:
    """Return what is in a cylinder that lacks its empty mass, where this is the reading that settles it; else None."""
    cylinder = gross.cylinder
    if not cylinder.lacks_tare or expected.is_tare or expected.alone:
        return None
    if expected.net_mg is not None:
        return expected.net_mg
    content = queries.content_of(cylinder.account)
    return content[2] if content and ledger.last_weighing(gross.account) is None else None


def _doubt_of_tare(form: forms.Form, name: str, gross: Gross, held_mg: int, unit: str) -> tuple[bool, str | None]:
    """Give the cylinder the empty mass that this reading settles. Returns whether that cannot be, and a question."""
    scale, found = gross.scale, weighing.by_paper(gross.cylinder, gross.scale, gross.gross_mg, held_mg)

    def possible(other: Mass) -> bool:
        mg = scale.step.read(other)
        return mg is not None and held_mg < mg <= 2 * held_mg

    over = Judge(gross, Expected(is_tare=True), unit).cannot(gross.gross_mg)
    if (sentence := over or emptymass.cannot(found, held_mg, unit)) is not None:
        refuse(form, name, sentence, possible=possible)
        return True, None
    found.give_to(gross.cylinder)
    question = emptymass.doubt(found, held_mg, unit)
    return False, question if question and ask(form, name, question, possible=possible) else None


def _off_step(gross: Gross, mass: Mass) -> str:
    """Return the question about a reading that is no display of its scale."""
    scale, step = gross.scale, gross.scale.step
    if not step.is_own(mass.unit) and mass.place_mg > step.mg:
        return f"{gross.typed} is coarser than {scale} shows (steps of {step.words}). Write what it shows."
    return f"{gross.typed} lies between the steps of {scale} ({step.words}). Read it again, or choose the other scale."


def listed(choices: Sequence[Choice]) -> str:
    """Return what some buttons propose, as part of a sentence."""
    return " or ".join(one.text for one in choices)
