"""Rules of the European Union for vehicle air conditioning. Pure.

Not applied: leak checks and equipment records of (EU) 2024/573 on passenger cars, which stand in neither of its lists;
the leak limits of Directive 2006/40/EC, which are for type approval of new vehicles.
"""

import re
from calendar import monthrange
from collections.abc import Iterable, Iterator
from datetime import date, timedelta

from compliance.rules.facts import Deed, Person, Vehicle, Visit, Workshop
from compliance.rules.law import (
    FLUORINATED,
    GAS_ACTS,
    HFC,
    LIGHT,
    UNTREATED,
    Work,
    charged,
    contains,
    dated,
    denied,
    filled_past_date,
    gas_handlers,
    gases,
    inside,
    latest_visits,
    may_contain,
    openings,
    ozone_depleting,
    released,
    repaired_first,
    retrofits,
    schemes,
    sent,
    warming,
    works,
)
from compliance.rules.rule import BREACH, MEMORY, MET, OPEN, RESTATED, Judgement, Rule
from compliance.rules.seen import about_visit, charged_mg, grams, moves, photographed
from inventory.gases.catalogue import MIXED
from shop.visits.steps import text_of

EU = ("eu",)
F_GAS_2024 = date(2024, 3, 11)  # (EU) 2024/573 in force
ATTESTATIONS_2025 = date(2025, 10, 9)  # (EU) 2025/1893 in force; (EC) 307/2008 repealed
TRAINEE_MONTHS = 12  # (EC) 307/2008
TRAINEE_MONTHS_2025 = 24  # (EU) 2025/1893 Art. 2(3)
TYPES_FROM_2011, ALL_FROM_2017 = date(2011, 1, 1), date(2017, 1, 1)  # Directive 2006/40/EC Art. 6(2)
GWP_LINE = 150
MOBILE_FROM = date(2027, 3, 12)  # Art. 5(3)(b) and (c)
TONNE_MG = 10**9
REFRESHER_YEARS = 7
FIRST_REFRESHER = date(2029, 3, 12)
NOT_REFILLABLE = {"single-trip": "a single-trip cylinder", "can lot": "cans"}
USED_IN = ("purchase", "customer-gas-in", "came-from-sister")
SERVICING = ("charge", "circuit opened", "part out", "part in", "repair")
LOST = {"lost-in-our-hands": "was lost in the workshop's hands"}
MISHAP = "an intentional release is banned, a mishap is not one."
CARBON_DIOXIDE = "R-744"
CHECK_DAYS = {12: 365, 6: 183, 3: 92}


# --- people -----------------------------------------------------------------------------------------------------


def attested_recovery(facts: Workshop) -> Iterator[Judgement]:
    """Judge everybody who recovered fluorinated gas, by attestation or as a trainee under an attested person."""
    for work in works(facts, _recovers):
        yield _attested(facts, work)


def _recovers(visit: Visit, deed: Deed) -> bool:
    if deed.kind != "recovery":
        return False
    if deed.day < F_GAS_2024:  # before, cars and light goods vehicles, and HFC alone
        return visit.vehicle.vehicle_class in LIGHT and any(may_contain(one, HFC) for one in gases(visit, deed))
    return any(may_contain(one, FLUORINATED) for one in gases(visit, deed))


def attested_service(facts: Workshop) -> Iterator[Judgement]:
    """Judge everybody who charged, opened or repaired a car's system."""
    for work in works(facts, _services):
        yield _attested(facts, work)


def _services(visit: Visit, deed: Deed) -> bool:
    if deed.kind not in SERVICING or visit.vehicle.vehicle_class not in LIGHT:
        return False
    return any(may_contain(one, FLUORINATED) for one in gases(visit, deed))


def _attested(facts: Workshop, work: Work) -> Judgement:
    person = facts.people.get(work.doer)
    if person is None:
        words = f"{work.words}: done by somebody who is not among the people of the workshop."
        return work.judged(OPEN, words, "Enter the person and the attestation.")
    if person.certified_on(work.day):
        return work.judged(MET, f"{work.words}: done under {schemes(person, work.day)}.")
    if person.trainee:
        return _as_trainee(facts, work, person)
    words = f"{work.words}: done by somebody with no attestation on that day, who is no trainee."
    return work.judged(BREACH, words, "Enter the attestation if one was held; otherwise let an attested person do it.")


def _as_trainee(facts: Workshop, work: Work, trainee: Person) -> Judgement:
    answers = facts.people.get(work.answers)
    if answers is None or answers.handle == trainee.handle or not answers.certified_on(work.day):
        words = f"{work.words}: done by a trainee, and no attested person answers for it."
        return work.judged(BREACH, words, "Enter who answered for it, with an attestation that held on that day.")
    if trainee.enrolled_on is None or trainee.enrolled_on > work.day:
        words = f"{work.words}: done by a trainee who was not enrolled by then, as entered."
        return work.judged(OPEN, words, "Enter the day on which the trainee was enrolled.")
    months = months_between(trainee.enrolled_on, work.day)
    allowed = TRAINEE_MONTHS if work.day < ATTESTATIONS_2025 else TRAINEE_MONTHS_2025
    when = f"{months} months after enrolment ({allowed} are allowed)"
    words = f"{work.words}: done by a trainee, {when}, under an attested person."
    if work.day > months_later(trainee.enrolled_on, allowed):
        return work.judged(BREACH, words, "Enter the attestation if there is one; let an attested person do it.")
    return work.judged(MET, words)


def months_between(begun: date, day: date) -> int:
    """Return the whole months from one day to a later one."""
    return (day.year - begun.year) * 12 + day.month - begun.month - (day.day < begun.day)


def months_later(day: date, months: int) -> date:
    """Return the same day of the month some months later, the last of that month where it has no such day."""
    year, month = divmod(day.year * 12 + day.month - 1 + months, 12)
    return date(year, month + 1, min(day.day, monthrange(year, month + 1)[1]))


def attestation_type(facts: Workshop) -> Iterator[Judgement]:
    """Judge acts by the type of attestation of who did them or answers for a trainee; ask where none is named."""
    unnamed: dict[str, date] = {}
    for work in works(facts, lambda visit, deed: deed.kind in GAS_ACTS):
        if work.day < ATTESTATIONS_2025:
            continue
        person = facts.people.get(work.doer)
        if person is not None and person.trainee and not person.certified_on(work.day):
            person = facts.people.get(work.answers)
        if person is None or not person.certified_on(work.day):
            continue  # said by the rule on attestations
        types = types_of(person, work.day)
        if not types:
            unnamed[person.handle] = work.day
        else:
            yield _of_type(work, types)
    for handle, day in unnamed.items():
        words = f"No type M1 to M4 is named on the attestation that was used on {dated(day)}."
        way_out = (
            "Enter the type in the scope; one of the old kind stays usable once its holder is brought to M1, M2 or M4."
        )
        yield Judgement(OPEN, f"person:{handle}", words, way_out, day, person=handle)


def types_of(person: Person, day: date) -> frozenset[str]:
    """Return the types M1 to M4 that the certificates held on a day name."""
    return frozenset(re.findall(r"\bM[1-4]\b", schemes(person, day).upper()))


def _of_type(work: Work, types: frozenset[str]) -> Judgement:
    needed: set[str] = set()
    for deed in work.deeds:
        for code in gases(work.visit, deed):
            if not types & covering(deed.kind, code):
                needed |= covering(deed.kind, code)
    held = ", ".join(sorted(types))
    if needed:
        words = f"{work.words}: asks for type {' or '.join(sorted(needed))}; held is {held}."
        return work.judged(BREACH, words, "Enter the attestation of that type if there is one.")
    return work.judged(MET, f"{work.words}: done under type {held}.")


def covering(kind: str, code: str) -> frozenset[str]:
    """Return the types that cover an act on a refrigerant; that the station of an M2 works by itself is not seen."""
    if code == CARBON_DIOXIDE:
        return frozenset({"M3"})
    return frozenset({"M1", "M2", "M4"}) if kind == "recovery" and code != MIXED else frozenset({"M1", "M2"})


def refresher(facts: Workshop) -> Iterator[Judgement]:
    """Ask for a refresher seven years after the newest attestation, and not before March 2029."""
    for person, _ in gas_handlers(facts):
        issued = [one.issued_on for one in person.certificates if one.issued_on is not None]
        if not issued:
            continue
        due = max(months_later(max(issued), 12 * REFRESHER_YEARS), FIRST_REFRESHER)
        about = f"person:{person.handle}"
        if facts.today > due:
            words = f"The newest attestation is of {dated(max(issued))}; a refresher was due on {dated(due)}."
            yield Judgement(OPEN, about, words, "Enter the refresher or the new attestation.", person=person.handle)
        else:
            yield Judgement(MET, about, f"A refresher is due by {dated(due)}.", person=person.handle)


# --- gas out and gas let go -------------------------------------------------------------------------------------


def no_release(facts: Workshop) -> Iterator[Judgement]:
    """Judge openings of systems with fluorinated gas, and lines that let such gas go."""
    yield from openings(facts, lambda code: may_contain(code, FLUORINATED) and not ozone_depleting(code))
    yield from released(facts, lambda code: contains(code, FLUORINATED) and not ozone_depleting(code), LOST, MISHAP)


def ozone_recovered(facts: Workshop) -> Iterator[Judgement]:
    """Judge openings of systems with ozone-depleting gas, and lines that let such gas go."""
    yield from openings(facts, ozone_depleting)
    yield from released(facts, ozone_depleting, LOST, MISHAP)


# --- what may go into a vehicle ---------------------------------------------------------------------------------


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
    state, words, way_out = MET, f"{gas} was charged; the system was built for {old}, before both bans.", ""
    if turned and deed.day >= ALL_FROM_2017:
        state, words = OPEN, f"{gas} was charged for the first time, in place of {old}, after 1 January 2017."
        way_out = "Ask the authority whether a conversion counts as refilling, and accept this with the answer."
    return Judgement(state, about_visit(visit), words, way_out, deed.day, deed.line, deed.doer)


def _by_registration(visit: Visit, deed: Deed, gas: str, *, named: bool) -> Judgement:
    """Judge a fill by the first registration; `named`: a maker's label that was read names this gas."""
    day = visit.vehicle.first_registered
    way_out = ""
    if day is None:
        state, words = OPEN, f"{gas} was charged, and the day of first registration is not entered."
        way_out = "Enter the day of first registration."
    elif day >= ALL_FROM_2017:
        state, words = (
            BREACH,
            f"{gas} was charged into a vehicle first registered on {dated(day)}, after 1 January 2017.",
        )
        way_out = "Correct the registration or the refrigerant if one is wrong; otherwise explain."
    elif day >= TYPES_FROM_2011 and not named:
        state, words = (
            OPEN,
            f"{gas} was charged; first registered on {dated(day)}, its type may be approved after 2010.",
        )
        way_out = "Accept this with the date of the type approval, or with the label that names this gas."
    elif day >= TYPES_FROM_2011:
        state, words = MET, f"{gas} was charged; first registered on {dated(day)}, and its label names this gas."
    else:
        state, words = MET, f"{gas} was charged; first registered on {dated(day)}, before both bans."
    return Judgement(state, about_visit(visit), words, way_out, deed.day, deed.line, deed.doer)


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
    for visit in facts.visits:
        for one in charged(visit):
            if ozone_depleting(one.refrigerant):
                words = f"{one.words} was charged, and it may go into no vehicle."
                way_out = "Recover it for destruction or reclaim; explain if the refrigerant is entered wrongly."
                yield one.judged(visit, BREACH, words, way_out)
    for turned in retrofits(facts):
        if turned.charged is not None and ozone_depleting(turned.old) and not ozone_depleting(turned.new):
            words = f"It came with {turned.old} and was charged with {turned.new}."
            yield Judgement(
                MET, about_visit(turned.visit), words, "", turned.day, turned.charged.line, turned.charged.doer
            )


def ozone_stock(facts: Workshop) -> Iterator[Judgement]:
    """Ask where ozone-depleting stock is to go, and judge where it went."""
    for one in facts.cylinders:
        if ozone_depleting(one.refrigerant) and one.held_mg > 0 and one.state != "away":
            words = f"It holds {grams(one.held_mg)} of {one.refrigerant}, which may not go into any vehicle."
            way_out = "Send it away for destruction or reclaim."
            yield Judgement(OPEN, f"cylinder:{one.number}", words, way_out)
    for gone in facts.consignments:
        if not ozone_depleting(gone.refrigerant):
            continue
        what = f"{grams(gone.mass_mg)} of {gone.refrigerant} went out, purpose: {gone.purpose or 'not entered'}"
        if gone.purpose in ("destruction", "reclaim"):
            yield sent(gone, MET, f"{what}.")
        elif gone.purpose == "sale":
            words = f"{what}; it goes for destruction or reclaim only."
            yield sent(gone, BREACH, words, "Correct the purpose if it is wrong; otherwise explain.")
        else:
            words = f"{what}; the book cannot show that it goes for destruction or reclaim."
            yield sent(gone, OPEN, words, "Say where it goes from there, and accept this with it.")


def recycled_before_refill(facts: Workshop) -> Iterator[Judgement]:
    """Judge used fluorinated gas that was charged, by its grade."""
    for visit in facts.visits:
        for one in charged(visit):
            if one.grade == "virgin" or not may_contain(one.refrigerant, FLUORINATED):
                continue
            if one.grade in UNTREATED:
                words = f"{one.words} was charged without being recycled or reclaimed first."
                yield one.judged(visit, BREACH, words, "Recycle it or have it reclaimed first.")
            else:
                yield one.judged(visit, MET, f"{one.words} was charged.")


def recycled_own_only(facts: Workshop) -> Iterator[Judgement]:
    """Judge charges of recycled gas by whether it was recovered here, and ask about what came from others."""
    foreign: set[int] = set()
    for line in facts.lines:
        if line.cause in USED_IN and line.grade == "recycled" and contains(line.refrigerant, FLUORINATED):
            foreign.add(line.cylinder or 0)
            words = f"{grams(line.mass_mg)} of recycled {line.refrigerant} came from somebody else."
            way_out = "Have it reclaimed, or say for whom it was recovered."
            yield Judgement(OPEN, f"line:{line.line}", words, way_out, line.on, line.line, line.by)
    for visit in facts.visits:
        own = [
            (deed, one)
            for deed, one in moves(visit, "charge")
            if one.grade == "recycled" and one.cylinder not in foreign and contains(one.refrigerant, FLUORINATED)
        ]
        if own:
            words = (
                f"{grams(sum(one.mass_mg for _, one in own))} of recycled gas was charged, recovered by this workshop."
            )
            deed = own[0][0]
            yield Judgement(MET, about_visit(visit), words, "", deed.day, deed.line, deed.doer)


def virgin_high_gwp(facts: Workshop) -> Iterator[Judgement]:
    """Judge charges of gas with a GWP of 2 500 or more by whether it is new."""
    for visit in facts.visits:
        begins = date(2025, 1, 1) if visit.vehicle.vehicle_class == "refrigerated body" else date(2026, 1, 1)
        for one in charged(visit):
            value = warming(one.refrigerant, "EU") if contains(one.refrigerant, FLUORINATED) else None
            if value is None or value < 2500 or one.legs[0][0].day < begins:
                continue
            words = f"{one.words} (GWP {value.normalize():f}) was charged."
            if one.grade == "virgin":
                yield one.judged(visit, BREACH, words, "Use reclaimed or recycled gas, or another one.")
            else:
                yield one.judged(visit, MET, words)


# --- containers and trade ---------------------------------------------------------------------------------------


def refillable_only(facts: Workshop) -> Iterator[Judgement]:
    """Judge containers of fluorinated gas that came in, by whether they can be filled again."""
    for one in facts.cylinders:
        if one.first_in_on is None or not contains(one.refrigerant, FLUORINATED) or one.kind == "machine tank":
            continue
        about, day = f"cylinder:{one.number}", one.first_in_on
        if one.kind not in NOT_REFILLABLE:
            yield Judgement(MET, about, "It is a container that can be filled again.", day=day)
        elif contains(one.refrigerant, HFC):
            words = f"{one.refrigerant} came on {dated(day)} in {NOT_REFILLABLE[one.kind]} that cannot be filled again."
            yield Judgement(BREACH, about, words, "Correct the kind if it is wrong; buy refillable with a return.", day)
        else:
            came = f"{one.refrigerant} came on {dated(day)} in {NOT_REFILLABLE[one.kind]}"
            words = f"{came}; that the ban names this gas is from memory."
            yield Judgement(OPEN, about, words, "Look it up, and buy refillable with a return.", day)


def who_may_buy(facts: Workshop) -> Iterator[Judgement]:
    """Ask for an attested person on each day of a purchase, and about the buyer of gas that was sold."""
    for line in facts.lines:
        if line.cause != "purchase" or not contains(line.refrigerant, FLUORINATED):
            continue
        attested = any(one.active and one.certified_on(line.on) for one in facts.people.values())
        bought = f"{grams(line.mass_mg)} of {line.refrigerant} was bought on {dated(line.on)}"
        state, words, way_out = MET, f"{bought}, and somebody held an attestation.", ""
        if not attested:
            state, words = OPEN, f"{bought}, and nobody here held an attestation on that day, as entered."
            way_out = "Enter the attestation that the supplier was shown."
        yield Judgement(state, f"line:{line.line}", words, way_out, line.on, line.line)
    for one in facts.consignments:
        if one.purpose == "sale" and contains(one.refrigerant, FLUORINATED):
            words = f"{grams(one.mass_mg)} of {one.refrigerant} was sold; the book cannot show the buyer's attestation."
            yield sent(one, OPEN, words, "Accept this with the number of the buyer's certificate; keep it five years.")


def inspected_before_filling(facts: Workshop) -> Iterator[Judgement]:
    """Judge fillings by the inspection date of the cylinder."""
    return filled_past_date(facts)


# --- papers, labels, and vehicles other than cars ---------------------------------------------------------------


def label_after_change(facts: Workshop) -> Iterator[Judgement]:
    """Judge conversions by the photo of the new label."""
    for one in retrofits(facts):
        if not contains(one.new, FLUORINATED):
            continue
        deed = one.done or one.charged
        where = (one.day, deed.line if deed else None, deed.doer if deed else "")
        photo = text_of(one.done.data, "photo") if one.done else ""
        if one.done is not None and photographed(one.done) and not denied(photo):
            yield Judgement(MET, about_visit(one.visit), f"The label for {one.new} was photographed.", "", *where)
        else:
            words = f"It was turned from {one.old} to {one.new}, and no photo shows the new label."
            way_out = "Label it with gas, mass, CO2 equivalent and GWP, and enter the photo."
            yield Judgement(OPEN, about_visit(one.visit), words, way_out, *where)


def ozone_records(facts: Workshop) -> Iterator[Judgement]:
    """Judge recoveries of ozone-depleting gas by whether the record says how much, when and by whom."""
    for visit in facts.visits:
        legs = [(deed, one) for deed, one in moves(visit, "recovery") if ozone_depleting(one.refrigerant)]
        if not legs:
            continue
        deed, one = legs[0]
        mass = sum(each.mass_mg for _, each in legs)
        where = (deed.day, deed.line, deed.doer)
        if deed.doer in facts.people:
            words = f"{grams(mass)} of {one.refrigerant} recovered, with day and person; keep it five years."
            yield Judgement(MET, about_visit(visit), words, "", *where)
        else:
            words = f"{grams(mass)} of {one.refrigerant} recovered by somebody who is not among the people here."
            yield Judgement(OPEN, about_visit(visit), words, "Enter the person.", *where)


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
            words = f"{held}; the last in the book is older than that, due on {dated(due)}."
            way_out = "Search for leaks, or accept this with the check that somebody else did."
            yield Judgement(OPEN, about_visit(visits[-1]), words, way_out)
        else:
            yield Judgement(MET, about_visit(visits[-1]), f"{held}; the next is due by {dated(due)}.")


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
            there = {"the workshop's registration": facts.registration, "the workshop's address": facts.has_address}
            missing = [name for name, value in there.items() if not value]
            where = (deed.day, deed.line, deed.doer)
            if missing:
                words = f"Not entered, and asked for in the record of this vehicle: {' and '.join(missing)}."
                yield Judgement(OPEN, about_visit(visit), words, "Enter it in the settings.", *where)
            else:
                words = "Gas, mass, day, grade, firm and person are on record; keep it five years."
                yield Judgement(MET, about_visit(visit), words, "", *where)


RULES: tuple[Rule, ...] = (
    Rule(
        "eu-attested-recovery",
        "Whoever recovers fluorinated gas from a vehicle holds an attestation, or learns under somebody who does.",
        "(EC) 307/2008, trainees up to 12 months; (EU) 2024/573 Art. 8 for other road vehicles from 11 March 2024",
        attested_recovery,
        EU,
        until=date(2025, 10, 8),
    ),
    Rule(
        "eu-attested-recovery-2025",
        "Whoever recovers fluorinated gas from a vehicle holds an attestation, or learns under somebody who does.",
        "(EU) 2024/573 Art. 8; (EU) 2025/1893 Art. 2, trainees up to 24 months",
        attested_recovery,
        EU,
        ATTESTATIONS_2025,
    ),
    Rule(
        "eu-attested-service",
        "Whoever services or repairs a car's air conditioning holds an attestation, or learns under somebody who does.",
        "(EU) 2024/573 Art. 4(7) and Art. 10(1); trainees by (EC) 307/2008, from 9 October 2025 by (EU) 2025/1893",
        attested_service,
        EU,
        F_GAS_2024,
    ),
    Rule(
        "eu-attestation-type",
        "The attestation is of the type for the act: M1 all, M2 with an automated station, M3 CO2, M4 recovery only.",
        "(EU) 2025/1893 Art. 2(2), Art. 3(2) and Art. 6",
        attestation_type,
        EU,
        ATTESTATIONS_2025,
    ),
    Rule(
        "eu-refresher",
        "An attestation is refreshed every seven years, the first time by 12 March 2029.",
        "(EU) 2024/573 Art. 10(9), as a training body's notice has it",
        refresher,
        EU,
        F_GAS_2024,
        known=RESTATED,
    ),
    Rule(
        "eu-no-release",
        "Fluorinated gas is recovered before a circuit is opened, and never let go on purpose.",
        "(EU) 2024/573 Art. 4(1) and Art. 8",
        no_release,
        EU,
        F_GAS_2024,
    ),
    Rule(
        "eu-ozone-recovered",
        "Ozone-depleting gas is recovered at service and before dismantling, and never let go on purpose.",
        "(EU) 2024/590 Art. 20(1) and Art. 21",
        ozone_recovered,
        EU,
        F_GAS_2024,
    ),
    Rule(
        "eu-fill-ban",
        "Cars of types approved from 2011, and from 2017 all but old systems, are not filled with gas of GWP over 150.",
        "Directive 2006/40/EC Art. 6(2); GWP of the third assessment report as a trade body has it",
        fill_ban,
        EU,
        TYPES_FROM_2011,
    ),
    Rule(
        "eu-abnormal-loss",
        "After an abnormal loss a car is not filled before the repair is complete.",
        "Directive 2006/40/EC Art. 6(3)",
        abnormal_loss,
        EU,
    ),
    Rule(
        "eu-ozone-not-charged",
        "No ozone-depleting refrigerant, such as R-12, goes into any vehicle.",
        "(EU) 2024/590 Art. 12; that use is banned as the European Parliament's summary of the act of 2024 has it",
        ozone_not_charged,
        EU,
        F_GAS_2024,
        known=RESTATED,
    ),
    Rule(
        "eu-ozone-stock",
        "Ozone-depleting gas that was recovered goes to destruction or reclaim.",
        "(EU) 2024/590 Art. 12 and Art. 20(1)",
        ozone_stock,
        EU,
        F_GAS_2024,
    ),
    Rule(
        "eu-recycled-before-refill",
        "Recovered fluorinated gas is recycled or reclaimed before it is charged.",
        "(EU) 2024/573 Art. 8(6), opening words read, the rest from memory",
        recycled_before_refill,
        EU,
        F_GAS_2024,
        known=MEMORY,
    ),
    Rule(
        "eu-recycled-own-only",
        "Recycled gas is used only by the firm that recovered it, or for which it was recovered.",
        "(EU) 2024/573 Art. 13, said there of gas with a GWP of 2 500 or more",
        recycled_own_only,
        EU,
        F_GAS_2024,
    ),
    Rule(
        "eu-virgin-high-gwp",
        "New gas with a GWP of 2 500 or more does not service refrigeration from 2025, air conditioning from 2026.",
        "(EU) 2024/573 Art. 13, start dates from memory",
        virgin_high_gwp,
        EU,
        date(2025, 1, 1),
        known=MEMORY,
    ),
    Rule(
        "eu-refillable-only",
        "Fluorinated gas comes in containers that can be filled again and have a way back.",
        "(EU) 2024/573 Art. 11(3) and Annex IV point 1; since 4 July 2007",
        refillable_only,
        EU,
        date(2007, 7, 4),
    ),
    Rule(
        "eu-who-may-buy",
        "Fluorinated gas for service is sold only to holders of a certificate or attestation.",
        "(EU) 2024/573 Art. 11(6) and Art. 7, in part from memory",
        who_may_buy,
        EU,
        F_GAS_2024,
        known=MEMORY,
    ),
    Rule(
        "eu-inspected-before-filling",
        "A cylinder past its inspection date is not filled; it may still be carried to inspection.",
        "ADR 2025, 4.1.6.10",
        inspected_before_filling,
        EU,
    ),
    Rule(
        "eu-label-after-change",
        "After a change of gas the system is labelled anew: gas, mass, CO2 equivalent, GWP.",
        "(EU) 2024/573 Art. 12",
        label_after_change,
        EU,
        F_GAS_2024,
    ),
    Rule(
        "eu-ozone-records",
        "What was recovered of ozone-depleting gas, when and by whom, is kept for five years.",
        "(EU) 2024/590 Art. 21",
        ozone_records,
        EU,
        F_GAS_2024,
    ),
    Rule(
        "eu-leak-checks-mobile",
        "Refrigerated trucks, and from 12 March 2027 vans, buses and machinery, are leak checked; cars are not.",
        "(EU) 2024/573 Art. 5(1), (3) and (6); the date of 2027 read in Art. 8(5), for Art. 5 from memory",
        leak_checks,
        EU,
        F_GAS_2024,
    ),
    Rule(
        "eu-records-mobile",
        "The same vehicles have a record of gas, additions, recovery, firm and person, kept for five years.",
        "(EU) 2024/573 Art. 7; the date of 2027 for Art. 5 from memory",
        equipment_records,
        EU,
        F_GAS_2024,
    ),
)
