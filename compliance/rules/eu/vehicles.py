"""Labels after a change of gas, and vehicles other than cars: leak checks and records. Pure."""

from collections.abc import Iterator
from dataclasses import replace
from datetime import date, timedelta

from compliance.rules.facts import Vehicle, Workshop
from compliance.rules.law.acts import denied, latest_visits, retrofits
from compliance.rules.law.gases import FLUORINATED, HFC, contains, warming
from compliance.rules.rule import Judgement
from compliance.rules.seen import charged_mg, grams, moves, of_visit, photographed

F_GAS_2024 = date(2024, 3, 11)  # (EU) 2024/573 in force
MOBILE_FROM = date(2027, 3, 12)  # Art. 5(3)(b) and (c)
TONNE_MG = 10**9
CHECK_DAYS = {12: 365, 6: 183, 3: 92}


def label_after_change(facts: Workshop) -> Iterator[Judgement]:
    """Judge conversions by the photo of the new label."""
    for one in retrofits(facts):
        if not contains(one.new, FLUORINATED):
            continue
        there = replace(of_visit(one.visit, one.done or one.charged), day=one.day)
        if one.done is not None and photographed(one.done) and not denied(one.said("photo")):
            yield there.met(f"The label for {one.new} was photographed.")
        else:
            words = f"It was turned from {one.old} to {one.new}, and no photo shows the new label."
            way_out = "Label it with gas, mass, CO2 equivalent and GWP, and enter the photo."
            yield there.open(words, way_out)


def in_scope_from(vehicle: Vehicle) -> date | None:
    """Return since when the list of mobile equipment reaches a vehicle: never a passenger car."""
    if vehicle.vehicle_class == "refrigerated body":
        return F_GAS_2024
    return MOBILE_FROM if vehicle.vehicle_class in ("van", "bus", "truck", "off-road") else None


def check_months(code: str, mass_mg: int) -> int | None:
    """Return how many months lie between leak checks at this charge, without a detector; None below the lines.

    Source: (EU) 2024/573 Art. 5(1) and (6): 5, 50 and 500 t CO2e of HFC; 1, 10 and 100 kg of unsaturated gas. A blend
    is taken whole on each line, so it is asked no later than the law asks.
    """
    value = warming(code, "EU")
    tonnes = float(value) * mass_mg / TONNE_MG if value is not None and contains(code, (*HFC, "PFC")) else 0.0
    kilograms = mass_mg / 1e6 if contains(code, ("HFO", "HCFO")) else 0.0
    for months, least_t, least_kg in ((3, 500, 100), (6, 50, 10), (12, 5, 1)):
        if tonnes >= least_t or kilograms >= least_kg:
            return months
    return None


def leak_checks(facts: Workshop) -> Iterator[Judgement]:
    """Ask for leak checks of vehicles on the mobile list, from the last search in the book."""
    for vehicle, visits in latest_visits(facts):
        begins = in_scope_from(vehicle)
        filled = [visit for visit in visits if charged_mg(visit)]
        if begins is None or facts.today < begins or not filled:
            continue
        visit = filled[-1]
        code = next(one.refrigerant for _, one in moves(visit, "charge"))
        mass = max(charged_mg(visit), vehicle.nameplate_mg or 0)
        months = check_months(code, mass)
        if months is None:
            continue
        searches = [deed.day for each in visits for deed in each.of("leak search", "after-search")]
        due = max(max(searches, default=visit.opened_at.date()), begins) + timedelta(days=CHECK_DAYS[months])
        held = f"{grams(mass)} of {code} asks for a leak check every {months} months"
        if facts.today > due:
            words = f"{held}; the last in the book is older than that, due on {due}."
            way_out = "Search for leaks, or accept this with the check that somebody else did."
            yield of_visit(visits[-1]).open(words, way_out)
        else:
            yield of_visit(visits[-1]).met(f"{held}; the next is due by {due}.")


def equipment_records(facts: Workshop) -> Iterator[Judgement]:
    """Judge service of vehicles on the mobile list by what the record says of the firm and the gas."""
    for vehicle, visits in latest_visits(facts):
        begins = in_scope_from(vehicle)
        for visit in visits:
            charges = list(moves(visit, "charge"))
            if begins is None or not charges or charges[0][0].day < begins:
                continue
            deed, one = charges[0]
            if check_months(one.refrigerant, max(charged_mg(visit), vehicle.nameplate_mg or 0)) is None:
                continue
            entered = {"the workshop's registration": facts.registration, "the workshop's address": facts.has_address}
            missing = [name for name, value in entered.items() if not value]
            there = of_visit(visit, deed)
            if missing:
                words = f"Not entered, and asked for in the record of this vehicle: {' and '.join(missing)}."
                yield there.open(words, "Enter it in the settings.")
            else:
                words = "Gas, mass, day, grade, firm and person are on record; keep it five years."
                yield there.met(words)
