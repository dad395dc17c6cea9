"""Rules of the book about visits and people, whatever the jurisdiction. Pure.

They are practice, not law: where law says more, its module does. A *breach* stands only where the record itself shows
that gas could not but go into the air, or that a vessel was filled that must not be.
"""

from collections import defaultdict
from collections.abc import Iterator
from datetime import timedelta
from typing import Any

from compliance.rules import patterns, shelf
from compliance.rules.facts import Deed, Visit, Workshop
from compliance.rules.rule import BREACH, MET, OPEN, PRACTICE, Check, Judgement, Rule
from compliance.rules.seen import (
    OPENINGS,
    about_visit,
    arrived_open,
    charged_mg,
    first,
    grams,
    leak_named,
    left_evacuated,
    moves,
    photographed,
    recovered_mg,
    taken_as_empty,
    was_empty,
)
from shop.visits.steps import text_of

HANDS_ON = ("recovery", "circuit opened", "charge")
VENTED_LAWFULLY = ("R-744",)  # carbon dioxide may be let go
WAITING_DAYS = timedelta(days=14)  # how long a part is on order before somebody asks
TOPPED_UP_DAYS = 365  # a tight system asks for nothing within a year
CFC_FOR_CARS = "R-12"
TRADE = "practice of the trade"


def opened_with_gas(facts: Workshop) -> Iterator[Judgement]:
    """Report circuits opened with neither a recovery, a pressure that bounds what was inside, nor an open circuit."""
    for visit in facts.visits:
        opened = first(visit, *OPENINGS)
        if opened is None or visit.vehicle.refrigerant in VENTED_LAWFULLY:
            continue
        yield _of_opening(visit, opened)


def _of_opening(visit: Visit, opened: Deed) -> Judgement:
    before = [deed for deed in visit.deeds if deed.at <= opened.at]
    stood = [deed for deed in before if deed.kind == "standing pressure"]
    emptied = any(deed.kind == "recovery" for deed in before)
    if emptied or arrived_open(visit) or left_evacuated(visit) or was_empty(visit, stood):
        return Judgement(MET, about_visit(visit), "Nothing stood in it when it was opened.", day=opened.day)
    if not stood and leak_named(visit):
        return Judgement(
            OPEN,
            about_visit(visit),
            "The circuit was opened with no recovery and no pressure read; the leak named may have emptied it.",
            "Enter the standing pressure if it was read, or the photo of the leak.",
            opened.day,
            person=opened.doer,
        )
    why = (
        "the standing pressure was above the atmosphere"
        if stood
        else "no pressure was read, it did not arrive open and no leak is named, so nothing says that it was empty"
    )
    return Judgement(
        BREACH,
        about_visit(visit),
        f"The circuit was opened with no recovery before: {why}.",
        "Enter the recovery or the standing pressure if it was taken, with its time; otherwise explain what happened.",
        opened.day,
        person=opened.doer,
    )


def emptied_before_conversion(facts: Workshop) -> Iterator[Judgement]:
    """Report another refrigerant charged, or a conversion, with no recovery and no documented empty system."""
    for visit in facts.visits:
        turned = _conversion(visit)
        if turned is None or visit.vehicle.refrigerant in VENTED_LAWFULLY:
            continue
        before = [deed for deed in visit.deeds if deed.at <= turned.at]
        stood = was_empty(visit, before) or left_evacuated(visit)
        if any(deed.kind == "recovery" for deed in before) or stood or arrived_open(visit):
            yield Judgement(MET, about_visit(visit), "It was empty before it was converted.", day=turned.day)
            continue
        yield Judgement(
            BREACH,
            about_visit(visit),
            "It was converted, and no recovery and no documented empty system stands before the new charge.",
            "Enter the recovery, or the standing pressure that shows that it was empty; otherwise explain.",
            turned.day,
            person=turned.doer,
        )


def _conversion(visit: Visit) -> Deed | None:
    """Return the deed by which another refrigerant came in; the charge where there is one."""
    old = visit.vehicle.refrigerant
    done = visit.of("conversion done")
    for deed, one in moves(visit, "charge"):
        if done or (old and one.refrigerant != old and not visit.vehicle.original_refrigerant):
            return deed
    return done[0] if done else None


def standing_pressure(facts: Workshop) -> Iterator[Judgement]:
    """Report visits with gas moved or a circuit opened, and no standing pressure."""
    for visit in facts.visits:
        touched = first(visit, *HANDS_ON)
        if touched is None or arrived_open(visit) or left_evacuated(visit):
            continue
        if visit.of("standing pressure"):
            yield Judgement(MET, about_visit(visit), "The standing pressure was read.", day=touched.day)
        else:
            yield Judgement(
                OPEN,
                about_visit(visit),
                "No standing pressure was read, and it is the best witness of what was inside.",
                "Enter it if it was read; otherwise say why not, and read it before the hoses go on next time.",
                touched.day,
                person=touched.doer,
            )


def arrived_empty(facts: Workshop) -> Iterator[Judgement]:
    """Report vehicles taken as empty without a pressure or an open circuit to show it, or without its photo."""
    for visit in facts.visits:
        if not taken_as_empty(visit) or not visit.of(*HANDS_ON):
            continue
        witnesses = visit.of("received") if arrived_open(visit) else visit.of("standing pressure")
        day = visit.opened_at.date()
        if not witnesses:
            yield Judgement(
                OPEN,
                about_visit(visit),
                f"It was treated as empty and given {grams(charged_mg(visit))}, and no reading shows that it was.",
                "Enter the standing pressure with its photo; without one the loss has evidence E, nothing.",
                day,
                part="pressure",
            )
        elif not any(photographed(deed) for deed in witnesses):
            yield Judgement(
                OPEN,
                about_visit(visit),
                "It arrived empty by what was read or seen, and there is no photo of it: evidence D at best.",
                "Add the photo of the gauge or of the open circuit if there is one, or say that there is none.",
                day,
                part="photo",
            )
        else:
            yield Judgement(MET, about_visit(visit), "It arrived empty, read or seen, with a photo.", day=day)


def empty_and_no_leak(facts: Workshop) -> Iterator[Judgement]:
    """Report vehicles that arrived empty and were charged though no leak was found and nothing was mended."""
    for visit in facts.visits:
        if not taken_as_empty(visit) or not charged_mg(visit):
            continue
        if leak_named(visit):
            yield Judgement(
                MET, about_visit(visit), "A leak was found or something renewed.", day=visit.opened_at.date()
            )
        else:
            yield Judgement(
                OPEN,
                about_visit(visit),
                f"It arrived empty and was given {grams(charged_mg(visit))}, and no leak was found or mended: "
                "it went somewhere.",
                "Enter the leak that was found and what was mended, or when to look again and who knows of it.",
                visit.opened_at.date(),
            )


def recovery_proof(facts: Workshop) -> Iterator[Judgement]:
    """Report recoveries whose verdict is *not explained*, and *short* with no leak or settling to answer it."""
    for visit in facts.visits:
        if visit.proof not in ("short", "not explained", "accounted for"):
            continue
        legs = visit.of("recovery")
        day, person = (legs[-1].day, legs[-1].doer) if legs else (visit.opened_at.date(), "")
        answered = visit.proof == "short" and (leak_named(visit) or bool(visit.of("remainder settled")))
        if visit.proof == "accounted for" or answered:
            yield Judgement(MET, about_visit(visit), f"The recovery is {visit.proof}.", day=day)
            continue
        gone = " It stood emptied, so that was gone before the recovery." if visit.emptied else ""
        yield Judgement(
            OPEN,
            about_visit(visit),
            f"The recovery is {visit.proof}: {grams(visit.missing_mg)} beyond what readings, label and rest can tell."
            f"{gone}",
            "Enter when it was last charged, the leak that was found, or settle what is left with its evidence.",
            day,
            person=person,
            part=visit.proof,
        )


def remainder_settled(facts: Workshop) -> Iterator[Judgement]:
    """Report handed-over vehicles in which the book still had gas after a recovery, and nobody settled it."""
    for visit in facts.visits:
        held_mg = sum(mass for mass in visit.held_mg.values() if mass > 0)
        left_mg = held_mg - recovered_mg(visit)
        legs = visit.of("recovery")
        if not legs or held_mg <= 0 or not visit.handed_over:
            continue
        if left_mg <= 0 or visit.of("remainder settled"):
            yield Judgement(MET, about_visit(visit), "What was left is settled.", day=legs[-1].day)
        else:
            yield Judgement(
                OPEN,
                about_visit(visit),
                f"The book had {grams(held_mg)} in it, {grams(recovered_mg(visit))} came out, and the {grams(left_mg)} "
                "between were not settled.",
                "Settle what is left: what the pump took, what was lost on the road, what nobody can explain.",
                legs[-1].day,
            )


def interrupted(facts: Workshop) -> Iterator[Judgement]:
    """Report recoveries that stopped before they were done, and interruptions that never ended."""
    for visit in facts.visits:
        legs = visit.of("recovery")
        stopped = text_of(legs[-1].data, "stopped") if legs else ""
        if stopped not in ("", "done"):
            yield Judgement(
                OPEN,
                about_visit(visit),
                f"The last leg of the recovery stopped with: {stopped}. The vehicle is part recovered, not empty.",
                "Enter the leg that finished it.",
                legs[-1].day,
                part="recovery",
            )
        breaks = [deed for deed in visit.of("interrupted") if not text_of(deed.data, "to")]
        resumed = breaks and any(deed.at > breaks[-1].at for deed in visit.deeds)
        if breaks and not resumed and facts.today - breaks[-1].day > WAITING_DAYS:
            yield Judgement(
                OPEN,
                about_visit(visit),
                f"The work was interrupted on {breaks[-1].day.isoformat()}, and nothing stands after it.",
                "Enter how it went on, or that the vehicle left unfinished.",
                breaks[-1].day,
                part="waiting",
            )
        if (legs and stopped in ("", "done")) or (visit.of("interrupted") and resumed):
            yield Judgement(MET, about_visit(visit), "What was interrupted went on.", day=visit.opened_at.date())


def topped_up(facts: Workshop) -> Iterator[Judgement]:
    """Report vehicles charged again within a year with neither a leak search nor a repair."""
    for visit in facts.visits:
        charge, before = first(visit, "charge"), visit.previous_charge_on
        if charge is None or before is None or (charge.day - before).days > TOPPED_UP_DAYS:
            continue
        if leak_named(visit) or visit.of("leak search"):
            yield Judgement(
                MET, about_visit(visit), "A leak was looked for before it was charged again.", day=charge.day
            )
        elif visit.proof == "accounted for":
            yield Judgement(MET, about_visit(visit), "What should have been inside came out.", day=charge.day)
        else:
            yield Judgement(
                OPEN,
                about_visit(visit),
                f"It was charged {(charge.day - before).days} days after the last charge; nobody looked for a leak.",
                "Search for the leak and mend it, or enter what the customer declined.",
                charge.day,
                person=charge.doer,
            )


def split_charges(facts: Workshop) -> Iterator[Judgement]:
    """Report a vehicle charged in several visits of one day: their sum is what counts against any threshold."""
    days: dict[tuple[int, object], list[Visit]] = defaultdict(list)
    for visit in facts.visits:
        for day in {deed.day for deed in visit.of("charge") if deed.moved}:
            days[(visit.vehicle.number, day)].append(visit)
    for visits in days.values():
        last = visits[-1]
        day = last.of("charge")[-1].day
        if len(visits) == 1:
            yield Judgement(MET, about_visit(last), "It was charged in one visit of that day.", day=day)
            continue
        numbers = ", ".join(str(one.number) for one in visits)
        yield Judgement(
            OPEN,
            about_visit(last),
            f"One vehicle was charged in {len(visits)} visits of one day ({numbers}): "
            f"{grams(sum(charged_mg(one) for one in visits))} together.",
            "Judge the sum against any threshold, and say why it was not one visit.",
            day,
        )


def r12_charged(facts: Workshop) -> Iterator[Judgement]:
    """List every charge of R-12."""
    for visit in facts.visits:
        for deed, one in moves(visit, "charge"):
            if one.refrigerant == CFC_FOR_CARS:
                yield Judgement(
                    OPEN,
                    about_visit(visit),
                    f"{grams(one.mass_mg)} of R-12, which depletes ozone, were charged.",
                    "Say on what ground, and what the law of the place says of it.",
                    deed.day,
                    one.line or None,
                    deed.doer,
                )
            else:
                yield Judgement(MET, about_visit(visit), "What was charged is not R-12.", day=deed.day, part="charge")


def certified(facts: Workshop) -> Iterator[Judgement]:
    """Report people who handled gas on days on which neither they nor whoever answered for them held a certificate."""
    for handle, deeds in _hands_on(facts).items():
        person = facts.people.get(handle)
        lacking = [deed for deed in deeds if not _covered(facts, deed)]
        if not lacking:
            yield Judgement(
                MET, f"person:{handle}", "A certificate covered each day.", day=deeds[-1].day, person=handle
            )
            continue
        held = person.certificates if person else ()
        part = "ran out" if any(one.expires_on and one.expires_on < lacking[-1].day for one in held) else "none"
        words = "after the certificate ran out" if part == "ran out" else "without a certificate"
        yield Judgement(
            OPEN,
            f"person:{handle}",
            f"{len(lacking)} of {len(deeds)} acts with gas were done {words}, first on {lacking[0].day.isoformat()}.",
            "Enter the certificate that was held, name who answers for the work, or let a certified person do it.",
            lacking[0].day,
            person=handle,
            part=part,
        )


def certificate_came_later(facts: Workshop) -> Iterator[Judgement]:
    """Report people whose first certificate is dated after they had handled gas without anybody answering for it."""
    for handle, deeds in _hands_on(facts).items():
        person = facts.people.get(handle)
        issued = [one.issued_on for one in person.certificates if one.issued_on] if person else []
        if not issued:
            continue
        early = [deed for deed in deeds if deed.day < min(issued) and not _covered(facts, deed)]
        if not early:
            yield Judgement(MET, f"person:{handle}", "It was held before the work.", day=deeds[-1].day, person=handle)
        else:
            yield Judgement(
                OPEN,
                f"person:{handle}",
                f"{len(early)} acts with gas stand before the certificate was issued on {min(issued).isoformat()}.",
                "Enter the older certificate if there was one, or name who answered for the work.",
                early[0].day,
                person=handle,
            )


def _hands_on(facts: Workshop) -> dict[str, list[Deed]]:
    found: dict[str, list[Deed]] = defaultdict(list)
    for visit in facts.visits:
        for deed in visit.of(*HANDS_ON):
            found[deed.doer].append(deed)
    return found


def _covered(facts: Workshop, deed: Deed) -> bool:
    people = (facts.people.get(handle) for handle in (deed.doer, deed.answers) if handle)
    return any(person is not None and person.certified_on(deed.day) for person in people)


ELSEWHERE = ("none", "in")  # where the law modules say the same with their own sources, they say it alone


def _rule(name: str, duty: str, check: Check, source: str = TRADE, **more: Any) -> Rule:
    return Rule(f"book-{name}", duty, source, check, standing=PRACTICE, **more)


def _pattern(name: str, duty: str, check: Check, source: str = TRADE) -> Rule:
    return _rule(name, duty, check, source, statistics=True)


RULES: tuple[Rule, ...] = (
    _rule(
        "opened-with-gas",
        "A circuit is opened only after recovery, or when a pressure shows that it is empty.",
        opened_with_gas,
        jurisdictions=ELSEWHERE,
    ),
    _rule(
        "emptied-before-conversion",
        "Before another refrigerant goes in, the old one is recovered or the system is shown to be empty.",
        emptied_before_conversion,
        jurisdictions=ELSEWHERE,
    ),
    _rule("standing-pressure", "The standing pressure is read before the hoses go on.", standing_pressure),
    _rule(
        "arrived-empty",
        "What arrives empty is shown to be so, by pressure or an open circuit, with a photo.",
        arrived_empty,
    ),
    _rule(
        "empty-and-no-leak", "Where a vehicle arrived empty, the leak is named before it is filled.", empty_and_no_leak
    ),
    _rule("recovery-proof", "What should have come out is accounted for, or explained.", recovery_proof),
    _rule("remainder-settled", "What recovery left by the book is settled with its evidence.", remainder_settled),
    _rule("interrupted", "What was interrupted is finished, or said to be left unfinished.", interrupted),
    _rule("topped-up", "A vehicle that is charged again within a year is searched for its leak.", topped_up),
    _rule("split-charges", "Charges of one vehicle on one day count together.", split_charges),
    _rule("r12-charged", "Each charge of R-12 is listed.", r12_charged),
    _rule("certified", "Whoever handles gas holds a certificate, or somebody who does answers for it.", certified),
    _rule("certificate-later", "A certificate is held before the work, not after it.", certificate_came_later),
    _rule(
        "weighings-disagree",
        "Two readings of a cylinder agree, or the difference is explained.",
        shelf.weighings_disagree,
        "JCGM 100:2008; threshold: practice of the trade",
    ),
    _rule(
        "past-limit", "A cylinder holds no more than it may.", shelf.past_limit, "ADR P200, 49 CFR 173.304a, practice"
    ),
    _rule(
        "past-test-date", "A cylinder past its test date takes nothing.", shelf.past_test_date, "ADR 4.1.6.10, practice"
    ),
    _rule(
        "single-trip-filled",
        "A single-trip cylinder is never filled.",
        shelf.single_trip_filled,
        "49 CFR 178.65(i), practice",
    ),
    _rule("invoice", "A bought cylinder has the number of its paper.", shelf.invoice),
    _rule("opening-stock", "Opening stock is entered on the book's first day.", shelf.opening_stock),
    _rule("not-weighed", "What stands on the floor is weighed at least every half year.", shelf.not_weighed),
    _rule(
        "recovered-kept",
        "Recovered gas moves within a year: back into use by way of recycling, or away.",
        shelf.recovered_kept,
    ),
    _rule("away-long", "A cylinder that was sent away comes back, or is done with.", shelf.away_long),
    _rule("consignment-paper", "Gas sent away has the receiver's address, paper and mass.", shelf.consignment_paper),
    _rule("consignment-accepted", "What the receiver accepts is what was sent.", shelf.consignment_accepted),
    _rule("gas-from-nowhere", "Gas that no supplier brought is listed.", shelf.gas_from_nowhere),
    _rule("missing-cylinder", "A missing cylinder is listed.", shelf.missing_cylinder),
    _rule(
        "tare-corrected", "An empty mass is corrected on the evacuated cylinder, with a photo.", shelf.tare_corrected
    ),
    _rule("instrument-check", "Scales and gauges are used within their check.", shelf.instrument_check),
    _rule("late-lines", "Lines are written on the day they happen.", shelf.late_lines),
    _pattern(
        "losses-one-way",
        "Small differences of a cylinder go both ways.",
        patterns.cylinder_runs,
        "JCGM 100:2008; threshold: practice of the trade",
    ),
    _pattern("losses-one-way-year", "Small differences of all cylinders together go both ways.", patterns.workshop_run),
    _pattern("losses-one-way-person", "Small differences that one person finds go both ways.", patterns.person_runs),
    _pattern(
        "empties-by-person", "Vehicles arrive empty about as often whoever receives them.", patterns.empties_by_person
    ),
    _pattern(
        "no-pressure-by-person", "The standing pressure is read whoever does the work.", patterns.no_pressure_by_person
    ),
    _pattern("leaks-never-found", "Where vehicles arrive empty, leaks are looked for.", patterns.leaks_never_found),
    _pattern("recovered-as-label", "Recoveries scatter below the label.", patterns.recovered_as_label),
    _pattern("charged-at-target", "Charges scatter about their target.", patterns.charged_at_target),
    _pattern("last-digits", "Last digits of a fine scale are spread.", patterns.last_digits),
    _pattern("identical-masses", "Unrelated vehicles give different masses.", patterns.identical_masses),
    _pattern(
        "recovered-against-charged", "Much is recovered where much is charged.", patterns.recovered_against_charged
    ),
    _pattern(
        "purged",
        "No more is purged than air explains.",
        patterns.purged,
        "SAE J2788 as a catalogue extract has it, 5 %",
    ),
    _pattern("drained-as-oil", "No more is booked as oil than oil explains.", patterns.drained_as_oil),
    _pattern("tares-one-way", "Corrections of empty masses nearly cancel.", patterns.tares_one_way),
    _pattern("used-once", "A bought cylinder is used, weighed or sent back.", patterns.used_once),
    _pattern("two-at-once", "One person weighs the gas of one vehicle at a time.", patterns.two_at_once),
)
