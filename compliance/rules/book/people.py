"""Certificates of those who handle gas, whatever the jurisdiction. Pure."""

from collections import defaultdict
from collections.abc import Iterator

from compliance.rules.facts import Deed, Workshop
from compliance.rules.rule import Judgement
from compliance.rules.seen import HANDS_ON, of_person


def certified(facts: Workshop) -> Iterator[Judgement]:
    """Report people who handled gas on days on which neither they nor whoever answered for them held a certificate."""
    for handle, deeds in _hands_on(facts).items():
        person = facts.people.get(handle)
        lacking = [deed for deed in deeds if not _covered(facts, deed)]
        if not lacking:
            yield of_person(handle, deeds[-1].day).met("A certificate covered each day.")
            continue
        held = person.certificates if person else ()
        part = "ran out" if any(one.expires_on and one.expires_on < lacking[-1].day for one in held) else "none"
        words = "after the certificate ran out" if part == "ran out" else "without a certificate"
        yield of_person(handle, lacking[0].day, part=part).open(
            f"{len(lacking)} of {len(deeds)} acts with gas were done {words}, first on {lacking[0].day.isoformat()}.",
            "Enter the certificate that was held, name who answers for the work, or let a certified person do it.",
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
            yield of_person(handle, deeds[-1].day).met("It was held before the work.")
        else:
            yield of_person(handle, early[0].day).open(
                f"{len(early)} acts with gas stand before the certificate was issued on {min(issued).isoformat()}.",
                "Enter the older certificate if there was one, or name who answered for the work.",
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
