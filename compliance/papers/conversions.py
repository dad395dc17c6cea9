"""The label of a converted vehicle: the list of 40 CFR 82 subpart G as it was read (second-hand), and nothing invented.

What is missing is asked for before it is issued: nothing stands on it that was not entered.
"""

from datetime import date

from compliance.papers.labels import printed_on
from compliance.papers.ofvisit import OfVisit, doubt_of, of_visit
from compliance.papers.paper import CONVERSION, Label, NothingToIssue, Paper
from compliance.papers.wording import issuer_of
from inventory.gases import catalogue
from inventory.gases.catalogue import Refrigerant
from shop.models import Conversion, Step, Workshop
from shop.visits.steps import said, text_of

BACKGROUNDS = {
    "R-12": "white",
    "R-134a": "sky blue",
    "R-406A": "black",
    "R-414A": "red",
    "R-414B": "medium blue",
    "R-416A": "grey",
}
"""The colour behind a retrofit label in the United States, from memory: EPA's table of them was not read."""
LIST = "Items of a retrofit label: 40 CFR 82 subpart G, as restated in service literature (read second-hand)"
OF_STEP = {
    "trade_name": "the trade name of the refrigerant",
    "lubricant": "the lubricant and its amount",
    "lubricant_maker": "the maker of the lubricant",
}
FIXED = "Fix it where it lasts and cover the old label; it stays with the vehicle."


def conversion_label(workshop: Workshop, about: str, *, today: date) -> Paper:
    """Return the label of the conversion done in a visit; raises `NothingToIssue` where none was, or is asked."""
    one, step = converted_in(workshop, about)
    asked = still_asked(one, step)
    if asked:
        raise NothingToIssue(f"Before this label is printed, enter what stands on it: {', '.join(asked.values())}.")
    gas = catalogue.refrigerant(text_of(step.data, "to"))
    return printed_on(
        workshop,
        Paper(
            kind=CONVERSION,
            title=f"Conversion label, visit {one.visit.number}",
            about=about,
            issuer=issuer_of(workshop),
            blocks=(Label(f"Converted to {gas.code}", _rows(one, step, gas), marks=marks_of(gas)),),
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
            },
            beside=(colour_of(gas), FIXED),
        ),
    )


def converted_in(workshop: Workshop, about: str) -> tuple[OfVisit, Step]:
    """Return a visit and the step by which it was converted; raises `NothingToIssue` where it was not."""
    one = of_visit(workshop, about)
    step = one.last("conversion done")
    if step is None:
        raise NothingToIssue(f"No conversion is entered in visit {one.visit.number}, so there is nothing to label.")
    return one, step


def still_asked(one: OfVisit, step: Step) -> dict[str, str]:
    """Return what the label lacks: fields of the step by their names, else "from", "charge" and "address"."""
    lacking = {name: words for name, words in OF_STEP.items() if not said(step.data, name).strip()}
    if not from_of(one, step):
        lacking["from"] = "what the vehicle was for before"
    if not one.into:
        lacking["charge"] = "the charge"
    if not one.workshop.address.strip():
        lacking["address"] = "the address of the workshop"
    return lacking


def marks_of(gas: Refrigerant) -> tuple[str, ...]:
    """Return the words that are set off: ozone depleter, flammable."""
    ozone = ("OZONE DEPLETER: it is or contains an ozone-depleting substance",) if gas.contains_ods else ()
    return (*ozone, f"FLAMMABLE, class {gas.safety_class}") if gas.flammable else ozone


def colour_of(gas: Refrigerant) -> str:
    """Return which colour the label is put on, as far as it is known."""
    told = (
        f"for {gas.code} {BACKGROUNDS[gas.code]}, by EPA’s table as remembered: look there before it is printed"
        if gas.code in BACKGROUNDS
        else f"that of {gas.code} was not found in any text read here; ask who sells it"
    )
    return (
        "Printed in black on white. Where United States rules apply, the colour behind it is its own for each "
        f"refrigerant: {told}."
    )


def from_of(one: OfVisit, step: Step) -> str:
    """Return what the vehicle was for before; empty where nobody entered it."""
    kept = Conversion.objects.filter(visit=one.visit, to_refrigerant=text_of(step.data, "to")).order_by("-pk").first()
    return kept.from_refrigerant if kept else one.visit.vehicle.original_refrigerant


def _rows(one: OfVisit, step: Step, gas: Refrigerant) -> tuple[tuple[str, str], ...]:
    workshop = one.workshop
    address = ", ".join(part.strip() for part in workshop.address.splitlines() if part.strip())
    number = gas.code if gas.name in ("", gas.code) else f"{gas.code} ({gas.name})"
    return (
        ("Converted from", from_of(one, step)),
        ("Date", one.wording.day(step.occurred_at)),
        ("Technician", f"{step.doer}, at the company’s address"),
        ("Company", f"{workshop.name}, {address}"),
        ("Refrigerant", number),
        ("Trade name", said(step.data, "trade_name")),
        ("Charge", one.mass(sum(leg.mass_mg for leg in one.into))),
        ("Lubricant and amount", said(step.data, "lubricant")),
        ("Maker of lubricant", said(step.data, "lubricant_maker")),
    )
