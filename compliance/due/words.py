"""What falls due, in sentences: with names for those who work there, by codes alone for a calendar."""

from datetime import date

from compliance.due.falling import CERTIFICATE, CLOSING, CONSIGNMENT, CYLINDER, Due
from inventory.measure.own import Units
from inventory.output.days import ends

BY_CODE = {
    CERTIFICATE: "{} runs out",
    CYLINDER: "{}: its test date runs out",
    CONSIGNMENT: "{}: the receiver's mass is to be entered",
    CLOSING: "{} is to be closed",
}
CHECK_BY_CODE = "{}: its check runs out"


def said(due: Due, units: Units, today: date) -> str:
    """Return what falls due as who works there reads it: "Scale S2: its check runs out in 5 days."."""
    thing, end = due.thing, ends(due.on, units, today=today)
    if thing.kind == CYLINDER:
        return f"{thing.name}: its test date {end}; past it, nothing is filled in."
    if thing.kind == CERTIFICATE:
        return f"{thing.name}: {thing.of} {end}."
    if thing.kind == CONSIGNMENT:
        asked, sent = "was to be asked for" if due.is_past else "is to be asked for", units.mass_said(thing.mass_mg)
        what = f"of {sent} sent, the mass they accepted is not entered"
        return f"{thing.name} to {thing.of}: {what}; it {asked} by {units.day_said(due.on)}."
    if thing.kind == CLOSING:
        return f"{thing.name} is not closed; closing it by {units.day_said(due.on)} is common practice."
    return f"{thing.name}: its check {end}."


def by_code(due: Due) -> str:
    """Return what falls due without anybody's name, plate or partner: "Cylinder 4KX7QM: its test date runs out"."""
    return BY_CODE.get(due.thing.kind, CHECK_BY_CODE).format(due.thing.code)
