"""Attestations, their types and trainees. Pure."""

import re
from calendar import monthrange
from collections.abc import Iterator
from datetime import date

from compliance.rules.eu.vehicles import F_GAS_2024
from compliance.rules.facts import Deed, Person, Visit, Workshop
from compliance.rules.law.acts import GAS_ACTS, LIGHT, Work, classes, gas_handlers, gases, schemes, works
from compliance.rules.law.gases import FLUORINATED, HFC, may_contain
from compliance.rules.rule import Judgement
from compliance.rules.seen import of_person
from inventory.gases.catalogue import MIXED

ATTESTATIONS_2025 = date(2025, 10, 9)  # (EU) 2025/1893 in force; (EC) 307/2008 repealed
TRAINEE_MONTHS = 12  # (EC) 307/2008
TRAINEE_MONTHS_2025 = 24  # (EU) 2025/1893 Art. 2(3)
REFRESHER_YEARS = 7
FIRST_REFRESHER = date(2029, 3, 12)
SERVICING = ("charge", "circuit opened", "part out", "part in", "repair")
CARBON_DIOXIDE = "R-744"


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
        return work.record.open(words, "Enter the person and the attestation.")
    if person.certified_on(work.day):
        return work.record.met(f"{work.words}: done under {schemes(person, work.day)}.")
    if person.trainee:
        return _as_trainee(facts, work, person)
    words = f"{work.words}: done by somebody with no attestation on that day, who is no trainee."
    return work.record.breach(words, "Enter the attestation if one was held; otherwise let an attested person do it.")


def _as_trainee(facts: Workshop, work: Work, trainee: Person) -> Judgement:
    answers = facts.people.get(work.answers)
    if answers is None or answers.handle == trainee.handle or not answers.certified_on(work.day):
        words = f"{work.words}: done by a trainee, and no attested person answers for it."
        return work.record.breach(words, "Enter who answered for it, with an attestation that held on that day.")
    if trainee.enrolled_on is None or trainee.enrolled_on > work.day:
        words = f"{work.words}: done by a trainee who was not enrolled by then, as entered."
        return work.record.open(words, "Enter the day on which the trainee was enrolled.")
    months = months_between(trainee.enrolled_on, work.day)
    allowed = TRAINEE_MONTHS if work.day < ATTESTATIONS_2025 else TRAINEE_MONTHS_2025
    when = f"{months} months after enrolment ({allowed} are allowed)"
    words = f"{work.words}: done by a trainee, {when}, under an attested person."
    if work.day > months_later(trainee.enrolled_on, allowed):
        return work.record.breach(words, "Enter the attestation if there is one; let an attested person do it.")
    return work.record.met(words)


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
        words = f"No type M1 to M4 is named on the attestation that was used on {day}."
        way_out = "Enter its class; one of the old kind stays usable once its holder is brought to M1, M2 or M4."
        yield of_person(handle, day).open(words, way_out)


def types_of(person: Person, day: date) -> frozenset[str]:
    """Return the types M1 to M4 of the certificates held on a day: by their class, else by their words."""
    return frozenset(re.findall(r"\bM[1-4]\b", "; ".join(classes(person, day)).upper()))


def _of_type(work: Work, types: frozenset[str]) -> Judgement:
    needed: set[str] = set()
    for deed in work.deeds:
        for code in gases(work.visit, deed):
            if not types & covering(deed.kind, code):
                needed |= covering(deed.kind, code)
    held = ", ".join(sorted(types))
    if needed:
        words = f"{work.words}: asks for type {' or '.join(sorted(needed))}; held is {held}."
        return work.record.breach(words, "Enter the attestation of that type if there is one.")
    return work.record.met(f"{work.words}: done under type {held}.")


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
        if facts.today > due:
            words = f"The newest attestation is of {max(issued)}; a refresher was due on {due}."
            yield of_person(person.handle).open(words, "Enter the refresher or the new attestation.")
        else:
            yield of_person(person.handle).met(f"A refresher is due by {due}.")
