"""What becomes of the gas: charged, let go, kept, sent away; large charges; practice after recovery and loss. Pure."""

from collections.abc import Iterator
from dataclasses import replace
from datetime import date, timedelta

from compliance.rules.facts import Visit, Workshop
from compliance.rules.law.acts import inside, latest_visits, recycled_first
from compliance.rules.law.containers import passed_on
from compliance.rules.law.gases import ANY_HALOCARBON, HFC, USED_GRADES, contains, may_contain, ozone_depleting
from compliance.rules.law.losses import repaired_first
from compliance.rules.law.openings import openings, released
from compliance.rules.rule import BREACH, OPEN, Judgement
from compliance.rules.seen import above_the_air, grams, moves, of_consignment, of_cylinder, of_line, of_visit
from inventory.measure.figures import bar

THREE_YEARS = timedelta(days=3 * 365)
LOST = {
    "lost-in-our-hands": "was lost in the workshop's hands",
    "leaked-from-stock": "leaked from stock",
    "scrapped-with-rest": "was in a container that was scrapped",
}
SOLD = (
    "to another owner it goes for reclaim or destruction only.",
    "Correct the purpose if it is wrong; otherwise have it sent to a reclaimer.",
)
OTHERWISE = (
    "the book cannot show that it stays with its owner or goes for reclaim or destruction.",
    "Say which, and accept this with it.",
)
DISPOSED = ("heel-returned", "scrapped-with-rest")
FIFTEEN_POUNDS_MG = 6_803_886  # 15 lb
LEAK_REPAIR_FROM = date(2026, 1, 1)


def regulated(code: str) -> bool:
    """Whether the ban on venting covers a refrigerant: not carbon dioxide, and not what the sources do not name."""
    return may_contain(code, ANY_HALOCARBON)


def recycled_before_reuse(facts: Workshop) -> Iterator[Judgement]:
    """Judge used gas that was charged, by its grade."""
    way_out = "If it was recycled, enter that with its evidence; recycle or reclaim it next time."
    return recycled_first(facts, regulated, way_out)


def no_venting(facts: Workshop) -> Iterator[Judgement]:
    """Judge openings, and ask about gas that the book itself sent to the air; small losses of connecting are left."""
    yield from openings(facts, regulated)
    remark = "a loss in a good-faith recovery is no knowing release, a release is."
    yield from released(facts, regulated, LOST, remark)


def recovered_kept_until_reclaimed(facts: Workshop) -> Iterator[Judgement]:
    """Judge what was passed on of used HFC, by its purpose."""
    for one in facts.consignments:
        if one.grade not in USED_GRADES or not may_contain(one.refrigerant, HFC):
            continue
        sold = SOLD if contains(one.refrigerant, HFC) else None
        yield passed_on(one, f"{grams(one.mass_mg)} of {one.grade} {one.refrigerant}", sold, OTHERWISE)


def destination_named(facts: Workshop) -> Iterator[Judgement]:
    """Judge consignments of used gas by the address of the place they went to."""
    for one in facts.consignments:
        if one.grade not in USED_GRADES:
            continue
        gone = f"{grams(one.mass_mg)} of {one.grade} {one.refrigerant} went out on {one.on}"
        if one.has_address:
            yield of_consignment(one).met(f"{gone}; name and address of the place are entered.")
        else:
            words = f"{gone}; the place has a name and no address."
            yield of_consignment(one).breach(words, "Enter the address of the partner.")


def papers_three_years(facts: Workshop) -> Iterator[Judgement]:
    """Ask for the receiver's paper of each consignment of used gas of the last three years."""
    for one in facts.consignments:
        if one.grade not in USED_GRADES or one.on < facts.today - THREE_YEARS:
            continue
        if one.paper_number.strip():
            words = f"The receiver's paper of {one.on} has its number here; keep it until three years are over."
            yield of_consignment(one).met(words)
        else:
            words = f"No number of the receiver's paper of {one.on} is entered."
            yield of_consignment(one).open(words, "Enter it, and keep the paper on the premises for three years.")


def buyer_certified(facts: Workshop) -> Iterator[Judgement]:
    """Ask about the buyer of gas that was sold."""
    for one in facts.consignments:
        old = ozone_depleting(one.refrigerant) or one.on >= date(2018, 1, 1)
        if one.purpose != "sale" or not regulated(one.refrigerant) or not old:
            continue
        sold = f"{grams(one.mass_mg)} of {one.refrigerant} was sold on {one.on}"
        words = f"{sold}; the book cannot show the buyer's certificate."
        way_out = "Accept this with the buyer's certificate or resale statement, and keep the invoice for three years."
        yield of_consignment(one).open(words, way_out)


def disposable_heel(facts: Workshop) -> Iterator[Judgement]:
    """Judge single-trip cylinders of HFC that are done with, by how their heel left."""
    for cylinder in facts.cylinders:
        gone = cylinder.kind == "single-trip" and cylinder.state == "done with" and cylinder.last_out_on is not None
        if not gone or not may_contain(cylinder.refrigerant, HFC):
            continue
        last = {line.cause: line for line in facts.lines if line.cylinder == cylinder.number and line.cause in DISPOSED}
        there = of_cylinder(cylinder, cylinder.last_out_on)
        if (scrapped := last.get("scrapped-with-rest")) is not None:
            words = f"It was scrapped with {grams(scrapped.mass_mg)} in it."
            yield replace(of_line(scrapped), about=there.about).breach(
                words, "Recover heels before scrapping; explain this one."
            )
        elif "heel-returned" in last:
            yield replace(there, line=last["heel-returned"].line).met("It was returned with its heel.")
        elif cylinder.heel_removed_on is not None and cylinder.heel_stated:
            yield there.met(f"Its heel was removed on {cylinder.heel_removed_on}, as a statement says.")
        else:
            words = "It is done with, and no statement is entered that its heel was removed."
            way_out = "Enter day and statement of the technician who pulled 15 inHg of vacuum on it."
            yield there.open(words, way_out)


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
        there = replace(of_visit(visit), day=day)
        yield there.open(words, "Ask the authority, and accept this with the answer.")


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


def recovery_held(facts: Workshop) -> Iterator[Judgement]:
    """Ask about recoveries whose pressure rose above the atmosphere in the wait."""
    for visit in facts.visits:
        legs = visit.of("recovery")
        risen = above_the_air(visit, legs[-1], "pressure_after_wait") if legs else None
        if risen is None:
            continue
        there = of_visit(visit, legs[-1])
        if risen > 0:
            words = f"After the wait it stood {bar(risen * 1e5)} above the atmosphere."
            yield there.open(words, "Recover again until it holds, or enter that leg.")
        else:
            yield there.met("After the wait it stood no higher than the air.")


def leak_repaired_first(facts: Workshop) -> Iterator[Judgement]:
    """Show fills after an abnormal loss with no repair between."""
    for visit in facts.visits:
        found = repaired_first(visit, facts.today)
        if found is not None:
            yield replace(found, state=OPEN) if found.state == BREACH else found
