"""What may go into a vehicle. Pure."""

from collections.abc import Iterable, Iterator
from datetime import date

from compliance.rules.facts import Deed, Vehicle, Visit, Workshop
from compliance.rules.law.acts import LIGHT, charged, inside, latest_visits, recycled_first, retrofits
from compliance.rules.law.gases import FLUORINATED, HFC, contains, may_contain, ozone_depleting, warming
from compliance.rules.law.losses import repaired_first
from compliance.rules.rule import OPEN, Judgement, Record
from compliance.rules.seen import grams, moves, of_line, of_visit
from shop.visits.steps import text_of

TYPES_FROM_2011, ALL_FROM_2017 = date(2011, 1, 1), date(2017, 1, 1)  # Directive 2006/40/EC Art. 6(2)
REFRIGERATION_FROM, AIR_CONDITIONING_FROM = date(2025, 1, 1), date(2026, 1, 1)  # Art. 13, from memory
GWP_LINE = 150
HIGH_GWP = 2500
USED_IN = ("purchase", "customer-gas-in", "came-from-sister")


def fill_ban(facts: Workshop) -> Iterator[Judgement]:
    """Judge fills of cars and light vans with HFC of a GWP over 150, by the first registration.

    What is asked of a vehicle is asked once, at its last fill.
    """
    turned = {one.visit.number for one in retrofits(facts) if ozone_depleting(one.old)}
    for vehicle, visits in latest_visits(facts):
        if vehicle.vehicle_class not in LIGHT:
            continue
        asked, fitted = None, fitted_with(vehicle, visits)
        for visit in visits:
            found = _high_fill(visit, fitted, visit.number in turned)
            if found is not None and found.state == OPEN:
                asked = found
            elif found is not None:
                yield found
        if asked is not None:
            yield asked


def fitted_with(vehicle: Vehicle, visits: Iterable[Visit]) -> frozenset[str]:
    """Return the refrigerants that the system was fitted for by the maker, as the record or a label that was read says.

    The label of a system that was turned to another refrigerant is no maker's label.
    """
    if vehicle.original_refrigerant:
        return frozenset({vehicle.original_refrigerant})
    labels = [text_of(deed.data, "refrigerant") for visit in visits for deed in visit.of("label read")]
    old = {code for visit in visits if ozone_depleting(code := inside(visit))}
    return frozenset(old or filter(None, labels))


def _high_fill(visit: Visit, fitted: frozenset[str], turned: bool) -> Judgement | None:
    """Judge the first charge of a visit with HFC of a GWP over 150, None without one."""
    for deed, one in moves(visit, "charge"):
        value = warming(one.refrigerant, "TAR", "EU", "AR4") if contains(one.refrigerant, (*HFC, "PFC")) else None
        if value is None or value <= GWP_LINE:
            continue
        gas = f"{one.refrigerant} (GWP {value.normalize():f})"
        old = sorted(filter(ozone_depleting, fitted))
        if old:
            return _into_old_system(visit, deed, gas, old[0], turned)
        return _by_registration(visit, deed, gas, named=one.refrigerant in fitted)
    return None


def _into_old_system(visit: Visit, deed: Deed, gas: str, old: str, turned: bool) -> Judgement:
    """Judge a fill of a system that was built for an ozone-depleting gas: no type of 2011 was, nor any car of 2017."""
    there = of_visit(visit, deed)
    if turned and deed.day >= ALL_FROM_2017:
        words = f"{gas} was charged for the first time, in place of {old}, after 1 January 2017."
        way_out = "Ask the authority whether a conversion counts as refilling, and accept this with the answer."
        return there.open(words, way_out)
    return there.met(f"{gas} was charged; the system was built for {old}, before both bans.")


def _by_registration(visit: Visit, deed: Deed, gas: str, *, named: bool) -> Judgement:
    """Judge a fill by first registration and type approval; `named`: a maker's label that was read names this gas."""
    day, approved = visit.vehicle.first_registered, visit.vehicle.type_approved
    there = of_visit(visit, deed)
    if day is None:
        words = f"{gas} was charged, and the day of first registration is not entered."
        return there.open(words, "Enter the day of first registration.")
    if day >= ALL_FROM_2017:
        words = f"{gas} was charged into a vehicle first registered on {day}, after 1 January 2017."
        return there.breach(words, "Correct the registration or the refrigerant if one is wrong; otherwise explain.")
    charged = f"{gas} was charged; first registered on {day}"
    if day < TYPES_FROM_2011:
        return there.met(f"{charged}, before both bans.")
    if approved is not None and approved > day:
        return there.open(f"{charged}, its type approved on {approved}, later.", "Look at both days; one is wrong.")
    if approved is not None and approved < TYPES_FROM_2011:
        return there.met(f"{charged}, its type approved on {approved}, before both bans.")
    if approved is not None:
        return _of_a_type_since_2011(there, f"{charged}, its type approved on {approved}", named=named)
    if named:
        return there.met(f"{charged}, and its label names this gas.")
    way_out = "Enter the date of the type approval, or accept this with the label that names this gas."
    return there.open(f"{charged}, its type may be approved after 2010.", way_out)


def _of_a_type_since_2011(there: Record, charged: str, *, named: bool) -> Judgement:
    """Judge a fill where the type was approved from 2011 on; a label that names the gas speaks against that day."""
    if named:
        words = f"{charged}, after 1 January 2011, and its label names this gas: both are hardly right."
        return there.open(words, "Look at the certificate of conformity and at the label; correct what is wrong.")
    words = f"{charged}, after 1 January 2011."
    return there.breach(words, "Correct the day or the refrigerant if one is wrong; otherwise explain.")


def abnormal_loss(facts: Workshop) -> Iterator[Judgement]:
    """Judge fills of cars and light vans after an abnormal loss, by repair and leak search before them."""
    for visit in facts.visits:
        codes = [one.refrigerant for _, one in moves(visit, "charge")] or [inside(visit)]
        if visit.vehicle.vehicle_class in LIGHT and any(may_contain(code, FLUORINATED) for code in codes):
            found = repaired_first(visit, facts.today)
            if found is not None:
                yield found


def ozone_not_charged(facts: Workshop) -> Iterator[Judgement]:
    """Judge charges by whether the refrigerant depletes ozone: none such may go into a vehicle."""
    for one in charged(facts):
        if ozone_depleting(one.refrigerant):
            words = f"{one.words} was charged, and it may go into no vehicle."
            way_out = "Recover it for destruction or reclaim; explain if the refrigerant is entered wrongly."
            yield one.record.breach(words, way_out)
    for turned in retrofits(facts):
        if turned.charged is not None and ozone_depleting(turned.old) and not ozone_depleting(turned.new):
            yield turned.record.met(f"It came with {turned.old} and was charged with {turned.new}.")


def recycled_before_refill(facts: Workshop) -> Iterator[Judgement]:
    """Judge used fluorinated gas that was charged, by its grade."""
    way_out = "Recycle it or have it reclaimed first."
    return recycled_first(facts, lambda code: may_contain(code, FLUORINATED), way_out)


def recycled_own_only(facts: Workshop) -> Iterator[Judgement]:
    """Judge charges of recycled gas by whether it was recovered here, and ask about what came from others."""
    foreign: set[int] = set()
    for line in facts.lines:
        if line.cause in USED_IN and line.grade == "recycled" and contains(line.refrigerant, FLUORINATED):
            foreign.add(line.cylinder or 0)
            words = f"{grams(line.mass_mg)} of recycled {line.refrigerant} came from somebody else."
            way_out = "Have it reclaimed, or say for whom it was recovered."
            yield of_line(line).open(words, way_out)
    for visit in facts.visits:
        own = [
            (deed, one)
            for deed, one in moves(visit, "charge")
            if one.grade == "recycled" and one.cylinder not in foreign and contains(one.refrigerant, FLUORINATED)
        ]
        if own:
            whole = grams(sum(one.mass_mg for _, one in own))
            words = f"{whole} of recycled gas was charged, recovered by this workshop."
            yield of_visit(visit, own[0][0]).met(words)


def virgin_high_gwp(facts: Workshop) -> Iterator[Judgement]:
    """Judge charges of gas with a GWP of 2 500 or more by whether it is new."""
    for one in charged(facts):
        begins = REFRIGERATION_FROM if one.visit.vehicle.vehicle_class == "refrigerated body" else AIR_CONDITIONING_FROM
        value = warming(one.refrigerant, "EU") if contains(one.refrigerant, FLUORINATED) else None
        if value is None or value < HIGH_GWP or one.legs[0][0].day < begins:
            continue
        words = f"{one.words} (GWP {value.normalize():f}) was charged."
        if one.grade == "virgin":
            yield one.record.breach(words, "Use reclaimed or recycled gas, or another one.")
        else:
            yield one.record.met(words)
