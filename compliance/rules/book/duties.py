"""What is asked of every book, each with its source and the check of it. Pure."""

from typing import Any

from compliance.rules.book import gate, habits, instruments, people, readings, runs, shelf, sums, visits
from compliance.rules.rule import PRACTICE, Check, Rule

TRADE = "practice of the trade"
ELSEWHERE = ("none", "in")  # where the law modules say the same with their own sources, they say it alone


def _rule(name: str, duty: str, check: Check, source: str = TRADE, **more: Any) -> Rule:
    return Rule(f"book-{name}", duty, source, check, standing=PRACTICE, **more)


def _pattern(name: str, duty: str, check: Check, source: str = TRADE) -> Rule:
    return _rule(name, duty, check, source, statistics=True)


RULES: tuple[Rule, ...] = (
    _rule(
        "opened-with-gas",
        "A circuit is opened only after recovery, or when a pressure shows that it is empty.",
        visits.opened_with_gas,
        jurisdictions=ELSEWHERE,
    ),
    _rule(
        "emptied-before-conversion",
        "Before another refrigerant goes in, the old one is recovered or the system is shown to be empty.",
        visits.emptied_before_conversion,
        jurisdictions=ELSEWHERE,
    ),
    _rule("standing-pressure", "The standing pressure is read before the hoses go on.", visits.standing_pressure),
    _rule(
        "arrived-empty",
        "What arrives empty is shown to be so, by pressure or an open circuit, with a photo.",
        visits.arrived_empty,
    ),
    _rule(
        "empty-and-no-leak",
        "Where a vehicle arrived empty, the leak is named before it is filled.",
        visits.empty_and_no_leak,
    ),
    _rule("recovery-proof", "What should have come out is accounted for, or explained.", visits.recovery_proof),
    _rule(
        "remainder-settled", "What recovery left by the book is settled with its evidence.", visits.remainder_settled
    ),
    _rule("interrupted", "What was interrupted is finished, or said to be left unfinished.", visits.interrupted),
    _rule("topped-up", "A vehicle that is charged again within a year is searched for its leak.", visits.topped_up),
    _rule("split-charges", "Charges of one vehicle on one day count together.", visits.split_charges),
    _rule("r12-charged", "Each charge of R-12 is listed.", visits.r12_charged),
    _rule(
        "certified", "Whoever handles gas holds a certificate, or somebody who does answers for it.", people.certified
    ),
    _rule("certificate-later", "A certificate is held before the work, not after it.", people.certificate_came_later),
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
    _rule("away-long", "A cylinder that was sent away comes back, or is done with.", gate.away_long),
    _rule("consignment-paper", "Gas sent away has the receiver's address, paper and mass.", gate.consignment_paper),
    _rule("consignment-accepted", "What the receiver accepts is what was sent.", gate.consignment_accepted),
    _rule("gas-from-nowhere", "Gas that no supplier brought is listed.", gate.gas_from_nowhere),
    _rule("missing-cylinder", "A missing cylinder is listed.", gate.missing_cylinder),
    _rule(
        "tare-corrected",
        "An empty mass is corrected on the evacuated cylinder, with a photo.",
        instruments.tare_corrected,
    ),
    _rule("instrument-check", "Scales and gauges are used within their check.", instruments.instrument_check),
    _rule("late-lines", "Lines are written on the day they happen.", instruments.late_lines),
    _pattern(
        "losses-one-way",
        "Small differences of a cylinder go both ways.",
        runs.cylinder_runs,
        "JCGM 100:2008; threshold: practice of the trade",
    ),
    _pattern("losses-one-way-year", "Small differences of all cylinders together go both ways.", runs.workshop_run),
    _pattern("losses-one-way-person", "Small differences that one person finds go both ways.", runs.person_runs),
    _pattern(
        "empties-by-person", "Vehicles arrive empty about as often whoever receives them.", habits.empties_by_person
    ),
    _pattern(
        "no-pressure-by-person", "The standing pressure is read whoever does the work.", habits.no_pressure_by_person
    ),
    _pattern("leaks-never-found", "Where vehicles arrive empty, leaks are looked for.", habits.leaks_never_found),
    _pattern("recovered-as-label", "Recoveries scatter below the label.", readings.recovered_as_label),
    _pattern("charged-at-target", "Charges scatter about their target.", readings.charged_at_target),
    _pattern("last-digits", "Last digits of a fine scale are spread.", readings.last_digits),
    _pattern("identical-masses", "Unrelated vehicles give different masses.", readings.identical_masses),
    _pattern("recovered-against-charged", "Much is recovered where much is charged.", sums.recovered_against_charged),
    _pattern(
        "purged",
        "No more is purged than air explains.",
        sums.purged,
        "SAE J2788 as a catalogue extract has it, 5 %",
    ),
    _pattern("drained-as-oil", "No more is booked as oil than oil explains.", sums.drained_as_oil),
    _pattern("tares-one-way", "Corrections of empty masses nearly cancel.", sums.tares_one_way),
    _pattern("used-once", "A bought cylinder is used, weighed or sent back.", sums.used_once),
    _pattern("two-at-once", "One person weighs the gas of one vehicle at a time.", habits.two_at_once),
)
