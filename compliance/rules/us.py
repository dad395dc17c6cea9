"""Rules of the United States for vehicle air conditioning. Pure.

Editions read are named with each source. Not applied, because they are not for vehicles: the leak-rate triggers and
recovery levels of 40 CFR 82.156 and 82.157. A record of masses per vehicle is practice here; 82.42(b) asks for none.
"""

from collections.abc import Iterator
from dataclasses import replace
from datetime import date, timedelta

from compliance.rules.facts import Visit, Workshop
from compliance.rules.law import (
    ANY_HALOCARBON,
    GAS_ACTS,
    HFC,
    UNTREATED,
    USED_GRADES,
    Retrofit,
    charged,
    contains,
    dated,
    denied,
    filled_once,
    filled_past_date,
    gas_handlers,
    inside,
    latest_visits,
    may_contain,
    numbers_in,
    openings,
    ozone_depleting,
    parts_of,
    released,
    repaired_first,
    retrofits,
    schemes,
    sent,
    works,
)
from compliance.rules.rule import BREACH, MEMORY, MET, OPEN, PRACTICE, RESTATED, Judgement, Rule
from compliance.rules.seen import (
    about_visit,
    above_the_air,
    arrived_open,
    grams,
    left_evacuated,
    moves,
    photographed,
    was_empty,
)
from inventory.gases.catalogue import MIXED
from shop.visits.steps import text_of

YEAR = timedelta(days=365)
THREE_YEARS = timedelta(days=3 * 365)
FIFTEEN_POUNDS_MG = 6_803_886  # 15 lb
LEAK_REPAIR_FROM = date(2026, 1, 1)
RETROFITS_OF_R12 = ("R-134a", "R-401C", "R-416A")
LOST = {
    "lost-in-our-hands": "was lost in the workshop's hands",
    "leaked-from-stock": "leaked from stock",
    "scrapped-with-rest": "was in a container that was scrapped",
}
DISPOSED = ("heel-returned", "scrapped-with-rest")


def regulated(code: str) -> bool:
    """Whether the ban on venting covers a refrigerant: not carbon dioxide, and not what the sources do not name."""
    return may_contain(code, ANY_HALOCARBON)


# --- people and machines ----------------------------------------------------------------------------------------


def certified_person(facts: Workshop) -> Iterator[Judgement]:
    """Judge everybody who recovered or charged, by the certificates of that day."""
    for work in works(facts, lambda visit, deed: deed.kind in GAS_ACTS):
        person = facts.people.get(work.doer)
        if person is None:
            words = f"{work.words}: done by somebody who is not among the people of the workshop."
            yield work.judged(OPEN, words, "Enter the person and the certificate.")
        elif not person.certified_on(work.day):
            trainee = "; a trainee is no exception" if person.trainee else ""
            words = f"{work.words}: done by somebody with no certificate on that day{trainee}."
            way_out = "Enter the certificate if one was held; otherwise have a certified person do it."
            yield work.judged(BREACH, words, way_out)
        elif _only_for_plant(schemes(person, work.day)) and work.visit.vehicle.vehicle_class != "off-road":
            words = f"{work.words}: done under a section 608 certificate; motor vehicles ask for section 609."
            yield work.judged(OPEN, words, "Enter the section 609 certificate if there is one.")
        else:
            yield work.judged(MET, f"{work.words}: done under {schemes(person, work.day)}.")


def _only_for_plant(names: str) -> bool:
    """Whether the names of the certificates speak of section 608 and not of 609."""
    return "608" in names and "609" not in names


def proof_of_certification(facts: Workshop) -> Iterator[Judgement]:
    """Ask for a certificate that holds today, of everybody who moved gas within a year."""
    for person, last in gas_handlers(facts):
        if last < facts.today - YEAR:
            continue
        about = f"person:{person.handle}"
        if person.certified_on(facts.today):
            yield Judgement(MET, about, "A certificate that holds today is entered.", person=person.handle)
        else:
            words = f"Moved gas on {dated(last)}; no certificate that holds today is entered."
            yield Judgement(OPEN, about, words, "Enter the certificate, and keep its proof here.", person=person.handle)


def equipment_certified(facts: Workshop) -> Iterator[Judgement]:
    """Remind of each machine's one certification to the authority: its date has no place among the facts."""
    way_out = "Send it if it was never sent; then accept this with its date and the standard the machine meets."
    tanks = [one for one in facts.cylinders if one.kind == "machine tank" and one.state != "done with"]
    for one in tanks:
        words = "The book cannot show on which day this machine was certified to the authority."
        yield Judgement(OPEN, f"cylinder:{one.number}", words, way_out)
    out = [visit for visit in facts.visits if any(True for _ in moves(visit, "recovery", "recovery-through-machine"))]
    if out and not tanks:
        words = f"Gas was recovered at {len(out)} visit{'' if len(out) == 1 else 's'}, and no machine is entered."
        yield Judgement(OPEN, "book", words, way_out, part="machine")


# --- gas --------------------------------------------------------------------------------------------------------


def recycled_before_reuse(facts: Workshop) -> Iterator[Judgement]:
    """Judge used gas that was charged, by its grade."""
    for visit in facts.visits:
        for one in charged(visit):
            if one.grade == "virgin" or not regulated(one.refrigerant):
                continue
            if one.grade in UNTREATED:
                words = f"{one.words} was charged without being recycled or reclaimed first."
                way_out = "If it was recycled, enter that with its evidence; recycle or reclaim it next time."
                yield one.judged(visit, BREACH, words, way_out)
            else:
                yield one.judged(visit, MET, f"{one.words} was charged.")


def no_venting(facts: Workshop) -> Iterator[Judgement]:
    """Judge openings, and ask about gas that the book itself sent to the air; small losses of connecting are left."""
    yield from openings(facts, regulated)
    remark = "a loss in a good-faith recovery is no knowing release, a release is."
    yield from released(facts, regulated, LOST, remark)


def single_trip_refilled(facts: Workshop) -> Iterator[Judgement]:
    """Judge single-trip cylinders by what was filled into them."""
    return filled_once(facts, "refilled, it may not be transported")


def recovered_kept_until_reclaimed(facts: Workshop) -> Iterator[Judgement]:
    """Judge what was passed on of used HFC, by its purpose."""
    for one in facts.consignments:
        if one.grade not in USED_GRADES or not may_contain(one.refrigerant, HFC):
            continue
        what = (
            f"{grams(one.mass_mg)} of {one.grade} {one.refrigerant} went out, purpose: {one.purpose or 'not entered'}"
        )
        if one.purpose in ("reclaim", "destruction"):
            yield sent(one, MET, f"{what}.")
        elif one.purpose == "sale" and contains(one.refrigerant, HFC):
            words = f"{what}; to another owner it goes for reclaim or destruction only."
            yield sent(one, BREACH, words, "Correct the purpose if it is wrong; otherwise have it sent to a reclaimer.")
        else:
            words = f"{what}; the book cannot show that it stays with its owner or goes for reclaim or destruction."
            yield sent(one, OPEN, words, "Say which, and accept this with it.")


def requalified_before_refill(facts: Workshop) -> Iterator[Judgement]:
    """Judge fillings by the test date of the cylinder."""
    return filled_past_date(facts)


# --- papers -----------------------------------------------------------------------------------------------------


def destination_named(facts: Workshop) -> Iterator[Judgement]:
    """Judge consignments of used gas by the address of the place they went to."""
    for one in facts.consignments:
        if one.grade not in USED_GRADES:
            continue
        gone = f"{grams(one.mass_mg)} of {one.grade} {one.refrigerant} went out on {dated(one.on)}"
        if one.has_address:
            yield sent(one, MET, f"{gone}; name and address of the place are entered.")
        else:
            words = f"{gone}; the place has a name and no address."
            yield sent(one, BREACH, words, "Enter the address of the partner.")


def papers_three_years(facts: Workshop) -> Iterator[Judgement]:
    """Ask for the receiver's paper of each consignment of used gas of the last three years."""
    for one in facts.consignments:
        if one.grade not in USED_GRADES or one.on < facts.today - THREE_YEARS:
            continue
        if one.paper_number.strip():
            words = f"The receiver's paper of {dated(one.on)} has its number here; keep it until three years are over."
            yield sent(one, MET, words)
        else:
            words = f"No number of the receiver's paper of {dated(one.on)} is entered."
            yield sent(one, OPEN, words, "Enter it, and keep the paper on the premises for three years.")


def buyer_certified(facts: Workshop) -> Iterator[Judgement]:
    """Ask about the buyer of gas that was sold."""
    for one in facts.consignments:
        old = ozone_depleting(one.refrigerant) or one.on >= date(2018, 1, 1)
        if one.purpose != "sale" or not regulated(one.refrigerant) or not old:
            continue
        sold = f"{grams(one.mass_mg)} of {one.refrigerant} was sold on {dated(one.on)}"
        words = f"{sold}; the book cannot show the buyer's certificate."
        way_out = "Accept this with the buyer's certificate or resale statement, and keep the invoice for three years."
        yield sent(one, OPEN, words, way_out)


# --- retrofits --------------------------------------------------------------------------------------------------


def _of(one: Retrofit, state: str, words: str, way_out: str = "") -> Judgement:
    deed = one.charged or one.done
    return Judgement(
        state, about_visit(one.visit), words, way_out, one.day, deed.line if deed else None, deed.doer if deed else ""
    )


def old_gas_out(facts: Workshop) -> Iterator[Judgement]:
    """Judge retrofits that were charged, by the recovery or the empty system before."""
    for one in retrofits(facts):
        if one.charged is None:
            continue
        before = [deed for deed in one.visit.deeds if deed.at <= one.charged.at]
        legs = [deed for deed in before if deed.kind == "recovery"]
        empty = was_empty(one.visit, before) or left_evacuated(one.visit)
        came = f"{one.old} was in it, {one.new} was charged"
        if not legs and not empty and not arrived_open(one.visit):
            words = f"{came}, and neither a recovery nor an empty system stands before."
            way_out = "Enter the recovery, or the standing pressure that shows it empty; otherwise explain."
            yield _of(one, BREACH, words, way_out)
        elif legs and one.visit.proof in ("short", "not explained") and not one.visit.emptied:
            words = f"{came}; the recovery before is {grams(one.visit.missing_mg)} short of what can be told."
            yield _of(one, OPEN, words, "Say where the rest of the old gas went.")
        else:
            yield _of(one, MET, f"{came} after the old gas was out.")


def no_mixing(facts: Workshop) -> Iterator[Judgement]:
    """Judge visits at which a refrigerant was charged onto another, or a mixed one was charged."""
    turned = {one.visit.number for one in retrofits(facts)}
    for visit in facts.visits:
        charges = [deed for deed, _ in moves(visit, "charge")]
        if not charges:
            continue
        where = (charges[-1].day, charges[-1].line, charges[-1].doer)
        codes = _charged_together(visit)
        if len(codes) > 1 or MIXED in codes:
            words = f"Charged with no recovery between: {' and '.join(codes)}."
            way_out = "Recover it into a cylinder for mixed gas and charge one refrigerant; explain if a line is wrong."
            yield Judgement(BREACH, about_visit(visit), words, way_out, *where)
        elif visit.number in turned:
            yield Judgement(MET, about_visit(visit), "No refrigerant was charged onto another.", "", *where)


def _charged_together(visit: Visit) -> list[str]:
    """Return the refrigerants of the first charges that mixed, or those charged since the last recovery."""
    codes: list[str] = []
    for deed in visit.deeds:
        if deed.kind == "recovery" and len(codes) < 2 and MIXED not in codes:
            codes = []
        for one in deed.moved:
            if one.cause == "charge" and one.refrigerant not in codes:
                codes.append(one.refrigerant)
    return codes


def acceptable_substitute(facts: Workshop) -> Iterator[Judgement]:
    """Judge what R-12 systems were turned to."""
    for one in retrofits(facts):
        if one.old != "R-12":
            continue
        if one.new in RETROFITS_OF_R12:
            yield _of(one, MET, f"{one.new} is listed for systems that held R-12, under conditions.")
        else:
            listed = ", ".join(RETROFITS_OF_R12)
            words = f"{one.new} is not among those read as listed for systems that held R-12 ({listed})."
            yield _of(one, OPEN, words, "Look it up in the full list, and accept this with what it says.")


def _fitted(one: Retrofit, name: str) -> str:
    return text_of(one.done.data, name).strip() if one.done else ""


def unique_fittings(facts: Workshop) -> Iterator[Judgement]:
    """Judge retrofits by the fittings entered for both sides."""
    for one in retrofits(facts):
        sides = {"high": _fitted(one, "high_fitting"), "low": _fitted(one, "low_fitting")}
        kept = [side for side, text in sides.items() if denied(text)]
        missing = [side for side, text in sides.items() if not text]
        if kept:
            words = f"No fitting of its own for {one.new} on the {' and '.join(kept)} side."
            yield _of(one, BREACH, words, f"Fit the fittings of {one.new}, or disable the port for good, and enter it.")
        elif missing:
            words = f"The fitting on the {' and '.join(missing)} side is not entered."
            yield _of(one, OPEN, words, f"Fit the fittings of {one.new} on both sides and enter them.")
        else:
            yield _of(one, MET, f"Fittings entered: {sides['high']} and {sides['low']}.")


def retrofit_label(facts: Workshop) -> Iterator[Judgement]:
    """Judge retrofits by what the label takes from the record, and by its photo."""
    for one in retrofits(facts):
        lubricant = _fitted(one, "lubricant")
        items = {
            "name and address of the workshop": facts.has_address,
            "charged mass": one.charged is not None,
            "type of lubricant": bool(lubricant) and not denied(lubricant),
            "amount of lubricant": numbers_in(lubricant),
            "photo of the label on the vehicle": one.done is not None and photographed(one.done),
        }
        missing = [name for name, there in items.items() if not there]
        if one.done is not None and denied(text_of(one.done.data, "photo")):
            words = f"It was turned from {one.old} to {one.new} and has no new label."
            yield _of(one, BREACH, words, "Print the label, put it on, and enter its photo.")
        elif missing:
            yield _of(one, OPEN, f"Not entered for the label: {', '.join(missing)}.", "Enter what is named.")
        else:
            yield _of(one, MET, "The label's items and its photo are entered.")


def barrier_hoses(facts: Workshop) -> Iterator[Judgement]:
    """Judge retrofits to refrigerants with R-22 in them, by the hoses entered."""
    for one in retrofits(facts):
        if "R-22" not in parts_of(one.new):
            continue
        hoses = _fitted(one, "hoses")
        if "barrier" in hoses.lower():
            yield _of(one, MET, f"Hoses entered: {hoses}.")
        elif denied(hoses):
            words = f"{one.new} contains R-22, and the hoses are entered as: {hoses}."
            yield _of(one, BREACH, words, "Fit barrier hoses and enter them.")
        else:
            words = f"{one.new} contains R-22; hoses entered: {hoses or 'none'}."
            yield _of(one, OPEN, words, "Enter whether they are barrier hoses.")


def cut_out_switch(facts: Workshop) -> Iterator[Judgement]:
    """Ask about the switch that stops the compressor, where a retrofit does not name it."""
    for one in retrofits(facts):
        switch = _fitted(one, "cut_out")
        if switch and not denied(switch):
            yield _of(one, MET, f"Cut-out switch entered: {switch}.")
        else:
            words = f"Cut-out switch: {switch or 'not entered'}; it is asked for where the system has a relief device."
            yield _of(one, OPEN, words, "Enter the switch, or that the system has no relief device.")


# --- lines that are shown, not decided --------------------------------------------------------------------------


def fifteen_pounds(facts: Workshop) -> Iterator[Judgement]:
    """Show vehicles other than cars whose charge reaches 15 lb of HFC; whether the rule reaches them is not decided."""
    for vehicle, visits in latest_visits(facts):
        if vehicle.vehicle_class == "car":
            continue
        visit, mass = _largest(visits)
        if mass < FIFTEEN_POUNDS_MG:
            continue
        words = (
            f"Its charge of {mass / 453_592.37:.2f} lb is at or above the 15 lb line; check whether the leak repair "
            "rule reaches this vehicle."
        )
        day = max(visit.opened_at.date(), min(facts.today, LEAK_REPAIR_FROM))
        yield Judgement(OPEN, about_visit(visit), words, "Ask the authority, and accept this with the answer.", day)


def _largest(visits: list[Visit]) -> tuple[Visit, int]:
    """Return the largest charge of HFC at one visit or on one day, or the label where it says more, and its visit."""
    by_day: dict[date, int] = {}
    best, most = visits[-1], 0
    for visit in visits:
        whole = 0
        for deed, one in moves(visit, "charge"):
            if contains(one.refrigerant, HFC):
                whole += one.mass_mg
                by_day[deed.day] = by_day.get(deed.day, 0) + one.mass_mg
                if max(whole, by_day[deed.day]) > most:
                    best, most = visit, max(whole, by_day[deed.day])
    label = best.vehicle.nameplate_mg or 0
    return best, max(most, label if contains(inside(best), HFC) else 0)


def disposable_heel(facts: Workshop) -> Iterator[Judgement]:
    """Judge single-trip cylinders of HFC that are done with, by how their heel left."""
    for cylinder in facts.cylinders:
        gone = cylinder.kind == "single-trip" and cylinder.state == "done with" and cylinder.last_out_on is not None
        if not gone or not may_contain(cylinder.refrigerant, HFC):
            continue
        last = {line.cause: line for line in facts.lines if line.cylinder == cylinder.number and line.cause in DISPOSED}
        about, day = f"cylinder:{cylinder.number}", cylinder.last_out_on
        if (scrapped := last.get("scrapped-with-rest")) is not None:
            words = f"It was scrapped with {grams(scrapped.mass_mg)} in it."
            way_out = "Recover heels before scrapping; explain this one."
            yield Judgement(BREACH, about, words, way_out, scrapped.on, scrapped.line, scrapped.by)
        elif "heel-returned" in last:
            yield Judgement(MET, about, "It was returned with its heel.", "", day, last["heel-returned"].line)
        else:
            words = "It is done with, and the book cannot show how its heel was removed."
            way_out = "Accept this with the statement of the technician who pulled 15 inHg of vacuum on it."
            yield Judgement(OPEN, about, words, way_out, day)


def recovery_held(facts: Workshop) -> Iterator[Judgement]:
    """Ask about recoveries whose pressure rose above the atmosphere in the wait."""
    for visit in facts.visits:
        legs = visit.of("recovery")
        risen = above_the_air(visit, legs[-1], "pressure_after_wait") if legs else None
        if risen is None:
            continue
        where = (legs[-1].day, legs[-1].line, legs[-1].doer)
        if risen > 0:
            words = f"After the wait it stood {risen:.2f} bar above the atmosphere."
            yield Judgement(OPEN, about_visit(visit), words, "Recover again until it holds, or enter that leg.", *where)
        else:
            yield Judgement(MET, about_visit(visit), "After the wait it stood no higher than the air.", "", *where)


def leak_repaired_first(facts: Workshop) -> Iterator[Judgement]:
    """Show fills after an abnormal loss with no repair between."""
    for visit in facts.visits:
        found = repaired_first(visit, facts.today)
        if found is not None:
            yield replace(found, state=OPEN) if found.state == BREACH else found


US = ("us",)
SUBSTITUTES = date(1995, 11, 15)  # since then the law covers substitutes as well
SNAP = "SNAP, 40 CFR 82 Subpart G"

RULES: tuple[Rule, ...] = (
    Rule(
        "us-certified-person",
        "Whoever recovers or charges a motor vehicle's refrigerant for pay is trained and certified for it.",
        "42 U.S.C. 7671h(c); 40 CFR 82.34(a), text of June 2026",
        certified_person,
        US,
        SUBSTITUTES,
    ),
    Rule(
        "us-proof-of-certification",
        "Proof that everybody who runs the equipment is certified is kept at the workshop.",
        "40 CFR 82.42(b), as an industry summary of 2019 has it",
        proof_of_certification,
        US,
        known=RESTATED,
    ),
    Rule(
        "us-equipment-certified",
        "Each recovery or recycling machine is of an approved kind and was certified to the authority once.",
        "42 U.S.C. 7671h(d)(3); 40 CFR 82.42(a)(1), edition of 2003",
        equipment_certified,
        US,
    ),
    Rule(
        "us-recycled-before-reuse",
        "Recovered refrigerant is recycled or reclaimed before it is charged again, even into the same vehicle.",
        "EPA page on servicing motor vehicle air conditioning, January 2021; 40 CFR 82.34(d)(1)",
        recycled_before_reuse,
        US,
    ),
    Rule(
        "us-no-venting",
        "Refrigerant is not knowingly let into the air in service or disposal; carbon dioxide is exempt.",
        "42 U.S.C. 7671g(c); 40 CFR 82.154(a), text of 2005",
        no_venting,
        US,
        SUBSTITUTES,
    ),
    Rule(
        "us-single-trip-refilled",
        "A single-trip (DOT-39) cylinder is never refilled: refilled, it may not be transported.",
        "49 CFR 178.65(i), PHMSA letter 19-0021 of 2019",
        single_trip_refilled,
        US,
    ),
    Rule(
        "us-recovered-hfc-owner",
        "Recovered HFC goes to another owner only after reclaim, or for reclaim or destruction.",
        "42 U.S.C. 7675(h)(2)(B), act of 2020",
        recovered_kept_until_reclaimed,
        US,
        date(2020, 12, 27),  # day of enactment, from memory
    ),
    Rule(
        "us-requalified-before-refill",
        "A cylinder past its test date may be emptied and is not refilled before it is tested.",
        "49 CFR 180.205(c), from memory; periods in 180.209, texts of 2014 and 2017",
        requalified_before_refill,
        US,
        known=MEMORY,
    ),
    Rule(
        "us-destination-named",
        "Name and address of every place that recovered refrigerant is sent to are on record.",
        "40 CFR 82.42(b), as EPA's information request 1617.10 of 2021 has it",
        destination_named,
        US,
        known=RESTATED,
    ),
    Rule(
        "us-papers-three-years",
        "Papers of what was sent away are kept on the premises for three years.",
        "40 CFR 82.42(b)(4) and (5), from memory; year not read",
        papers_three_years,
        US,
        known=MEMORY,
    ),
    Rule(
        "us-buyer-certified",
        "Refrigerant is sold to certified people, or for resale, and the invoice is kept for three years.",
        "42 U.S.C. 7671h(e); 40 CFR 82.34(b); EPA fact sheet of 2016 for substitutes, their start in 2018 from memory",
        buyer_certified,
        US,
    ),
    Rule(
        "us-retrofit-old-gas-out",
        "All of the old refrigerant is out before another one goes in.",
        f"{SNAP} App B, for R-12; for others SNAP as service literature has it, year not read",
        old_gas_out,
        US,
        known=RESTATED,
    ),
    Rule(
        "us-retrofit-no-mixing",
        "Refrigerants are not mixed in a vehicle.",
        f"{SNAP}, as service literature has it, year not read",
        no_mixing,
        US,
        known=RESTATED,
    ),
    Rule(
        "us-retrofit-acceptable",
        "A system that held R-12 is turned only to a refrigerant that is listed for it.",
        f"{SNAP} App B, current text as read in 2026",
        acceptable_substitute,
        US,
    ),
    Rule(
        "us-retrofit-fittings",
        "Each refrigerant has its own fittings on both sides, and ports left unconverted are disabled for good.",
        f"{SNAP} App H of 28 May 1999, and SNAP as service literature has it",
        unique_fittings,
        US,
        date(1999, 5, 28),
        known=RESTATED,
    ),
    Rule(
        "us-retrofit-label",
        "A retrofit label names workshop, date, refrigerant, charge and lubricant, and is on the vehicle.",
        f"{SNAP}, as service literature has it, year not read",
        retrofit_label,
        US,
        known=RESTATED,
    ),
    Rule(
        "us-retrofit-barrier-hoses",
        "Barrier hoses are fitted where the new refrigerant contains R-22.",
        f"{SNAP}, as service literature has it, year not read",
        barrier_hoses,
        US,
        known=RESTATED,
    ),
    Rule(
        "us-retrofit-cut-out",
        "A switch stops the compressor at high pressure where the system has a relief device.",
        f"{SNAP}, from memory; year not read",
        cut_out_switch,
        US,
        known=MEMORY,
    ),
    Rule(
        "us-fifteen-pound-check",
        "A system with 15 lb or more of HFC may fall under leak repair; cars are far below, a bus is checked.",
        "40 CFR 84 Subpart C, 89 FR 82682 of 2024, as a trade summary has it",
        fifteen_pounds,
        US,
        LEAK_REPAIR_FROM,
        known=RESTATED,
    ),
    Rule(
        "us-disposable-heel",
        "The heel of a disposable cylinder is removed, with a statement, or the cylinder is returned for it.",
        "40 CFR 84 Subpart C, 89 FR 82682 of 2024, as a trade summary has it",
        disposable_heel,
        US,
        date(2028, 1, 1),
        known=RESTATED,
    ),
    Rule(
        "us-recovery-held",
        "After a recovery the pressure is watched for 5 minutes, and what rises above the air is recovered again.",
        "U.S. Army TM 5-3810-307-24-1-2, chapter 9; year not read",
        recovery_held,
        US,
        standing=PRACTICE,
        known=RESTATED,
    ),
    Rule(
        "us-leak-repaired-first",
        "A leak is found and mended before the system is filled; no federal law asks it for vehicles.",
        "Practice; a state agency's page says that EPA asks no leak repair on vehicles, year not read",
        leak_repaired_first,
        US,
        standing=PRACTICE,
        known=RESTATED,
    ),
)
