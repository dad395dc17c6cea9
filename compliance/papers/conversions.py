"""The label of a converted vehicle: the list of 40 CFR 82 subpart G as it was read (second-hand), and nothing invented.

What nobody entered is printed as not entered and listed as still asked.
"""

from datetime import date

from compliance.papers.ofvisit import OfVisit, doubt_of, of_visit
from compliance.papers.paper import CONVERSION, Label, NothingToIssue, Paper, Words
from compliance.papers.wording import issuer_of
from inventory.gases import catalogue
from inventory.gases.catalogue import Refrigerant
from inventory.output.days import NOT_ENTERED
from shop.models import Conversion, Step, Workshop
from shop.visits.steps import said, text_of

COLOUR = (
    "Printed in black on white. The colour behind it is its own for each refrigerant: put it on a label of the colour "
    "set for this refrigerant."
)
LIST = "Items of a retrofit label: 40 CFR 82 subpart G, as restated in service literature (read second-hand)"
FIXED = "Fix it where it lasts and cover the old label; it stays with the vehicle."


def conversion_label(workshop: Workshop, about: str, *, today: date) -> Paper:
    """Return the label of the conversion done in a visit; raises `NothingToIssue` where none was."""
    one = of_visit(workshop, about)
    step = one.last("conversion done")
    if step is None:
        raise NothingToIssue(f"No conversion is entered in visit {one.visit.number}, so there is nothing to label.")
    gas = catalogue.refrigerant(text_of(step.data, "to"))
    rows = _rows(one, step, gas)
    missing = tuple(name for name, text in rows if NOT_ENTERED in text)
    asked = (("Still asked", ", ".join(missing).lower()),) if missing else ()
    return Paper(
        kind=CONVERSION,
        title=f"Conversion label, visit {one.visit.number}",
        about=about,
        issuer=issuer_of(workshop),
        blocks=(
            Label(f"Converted to {gas.code}", (*rows, *asked), marks=marks_of(gas)),
            Words("How it is used", (COLOUR, FIXED)),
        ),
        lines=tuple(sorted({seq for leg in one.into for seq in leg.lines})),
        sources=(LIST, f"Safety class {gas.safety_class}: {gas.class_source}"),
        figures={
            "visit": one.visit.number,
            "from": from_of(one, step),
            "to": gas.code,
            "done_on": one.day(step.occurred_at).isoformat(),
            "charge_mg": sum(leg.mass_mg for leg in one.into) or None,
            "charge_give_or_take_mg": doubt_of(one.into),
            "flammable": gas.flammable,
            "ozone_depleting": gas.contains_ods,
            "still_asked": list(missing),
        },
        size="label",
    )


def marks_of(gas: Refrigerant) -> tuple[str, ...]:
    """Return the words that are set off: ozone depleter, flammable."""
    ozone = ("OZONE DEPLETER: it is or contains an ozone-depleting substance",) if gas.contains_ods else ()
    return (*ozone, f"FLAMMABLE, class {gas.safety_class}") if gas.flammable else ozone


def from_of(one: OfVisit, step: Step) -> str:
    """Return what the vehicle was for before; empty where nobody entered it."""
    kept = Conversion.objects.filter(visit=one.visit, to_refrigerant=text_of(step.data, "to")).order_by("-pk").first()
    return kept.from_refrigerant if kept else one.visit.vehicle.original_refrigerant


def _rows(one: OfVisit, step: Step, gas: Refrigerant) -> tuple[tuple[str, str], ...]:
    workshop = one.workshop
    address = ", ".join(part.strip() for part in workshop.address.splitlines() if part.strip()) or NOT_ENTERED
    number = gas.code if gas.name in ("", gas.code) else f"{gas.code} ({gas.name})"
    return (
        ("Converted from", from_of(one, step) or NOT_ENTERED),
        ("Date", one.day(step.occurred_at).isoformat()),
        ("Technician", f"{step.doer}, at the company’s address"),
        ("Company", f"{workshop.name}, {address}"),
        ("Refrigerant", number),
        ("Trade name", said(step.data, "trade_name") or NOT_ENTERED),
        ("Charge", one.amount(one.into) if one.into else NOT_ENTERED),
        ("Lubricant and amount", said(step.data, "lubricant") or NOT_ENTERED),
        ("Maker of lubricant", said(step.data, "lubricant_maker") or NOT_ENTERED),
    )
