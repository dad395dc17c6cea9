"""People: certificates of those who handle gas, and what their visits have in common that others' have not. Pure."""

from collections import defaultdict
from collections.abc import Callable, Iterator
from dataclasses import replace
from datetime import timedelta

from compliance.rules.book.readings import FEWEST_RATIOS
from compliance.rules.chance import odds, unusual
from compliance.rules.facts import Deed, Visit, Workshop
from compliance.rules.rule import Judgement
from compliance.rules.seen import BOOK, HANDS_ON, arrived_open, day_of, last_year, of_person, taken_as_empty, worker

FEWEST_VISITS = 12  # of a person in a year, below which a share says nothing
FEW_EMPTY = 0.25  # share of vehicles that arrive empty at a workshop (from experience, no source)
# Hose off one car, another's cylinder weighed and its hose on: slower than this. In 160 honest years of one person on
# the tuning seeds none came to three such pairs, though one car in five is begun while another stands under vacuum.
SAME_MINUTES = timedelta(minutes=6)
TOGETHER_FEW = 3


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
            words = f"{len(early)} acts with gas stand before the certificate was issued on {min(issued).isoformat()}."
            way_out = "Enter the older certificate if there was one, or name who answered for the work."
            yield of_person(handle, early[0].day).open(words, way_out)


def _hands_on(facts: Workshop) -> dict[str, list[Deed]]:
    found: dict[str, list[Deed]] = defaultdict(list)
    for visit in facts.visits:
        for deed in visit.of(*HANDS_ON):
            found[deed.doer].append(deed)
    return found


def _covered(facts: Workshop, deed: Deed) -> bool:
    people = (facts.people.get(handle) for handle in (deed.doer, deed.answers) if handle)
    return any(person is not None and person.certified_on(deed.day) for person in people)


def empties_by_person(facts: Workshop) -> Iterator[Judgement]:
    """Report people whose vehicles arrive empty, by the record, far more often than the others'."""
    yield from _share(
        facts,
        taken_as_empty,
        "vehicles arrived empty",
        "Look at their readings and photos on arrival, and at the leaks found.",
    )


def no_pressure_by_person(facts: Workshop) -> Iterator[Judgement]:
    """Report people who leave out the standing pressure far more often than the others."""
    yield from _share(
        facts,
        lambda visit: not visit.of("standing pressure") and not arrived_open(visit),
        "visits have no standing pressure",
        "Read it before the hoses go on; it is the best witness of what was inside.",
    )


def _share(facts: Workshop, counts: Callable[[Visit], bool], words: str, way_out: str) -> Iterator[Judgement]:
    visits = [one for one in facts.visits if last_year(facts, day_of(one)) and one.of("charge", "recovery")]
    by: dict[str, list[Visit]] = defaultdict(list)
    for visit in visits:
        by[worker(visit)].append(visit)
    hits = {person: sum(map(counts, theirs)) for person, theirs in by.items()}
    for person, theirs in by.items():
        n, k = len(theirs), hits[person]
        others_n, others_k = len(visits) - n, sum(hits.values()) - k
        if n < FEWEST_VISITS or not person:
            continue
        # Where nobody else works, the trade's own share has to serve; one more of each keeps a zero from deciding.
        p = (others_k + 1) / (others_n + 2) if others_n >= FEWEST_VISITS else FEW_EMPTY
        if unusual(n, k, p):
            yield of_person(person, day_of(theirs[-1])).open(
                f"Unusual: of {n} visits in a year {k} {words}; at the share of the others this comes by chance "
                f"{odds(n, k, p)}.",
                way_out,
            )
        else:
            yield of_person(person, day_of(theirs[-1])).met(f"Of {n} visits {k} {words}.")


def leaks_never_found(facts: Workshop) -> Iterator[Judgement]:
    """Report a year in which many vehicles arrived empty and a leak was named in few of them."""
    visits = [one for one in facts.visits if last_year(facts, day_of(one)) and taken_as_empty(one)]
    silent = [one for one in visits if not one.of("repair", "part in", "leak search", "after-search")]
    if len(visits) < FEWEST_RATIOS:
        return
    if unusual(len(visits), len(silent), 0.25):
        yield replace(BOOK, day=day_of(silent[-1])).open(
            f"Unusual: of {len(visits)} vehicles that arrived empty in a year, {len(silent)} have no search, no repair "
            f"and no part, such as visit {silent[-1].number}.",
            "Say where the gas went: enter the searches and repairs that were done.",
        )
    else:
        yield replace(BOOK, day=day_of(visits[-1])).met("Leaks were looked for where vehicles arrived empty.")


def two_at_once(facts: Workshop) -> Iterator[Judgement]:
    """Report people for whom weighings of two vehicles lie minutes apart again and again: one name, several hands."""
    moments: dict[str, list[tuple[Deed, int]]] = defaultdict(list)
    for visit in facts.visits:
        for deed in visit.of("recovery", "charge"):
            if deed.moved and last_year(facts, deed.day):
                moments[deed.doer].append((deed, visit.number))
    for person, deeds in moments.items():
        deeds.sort(key=lambda one: one[0].at)
        pairs = [
            (one, other)
            for one, other in zip(deeds, deeds[1:], strict=False)
            if one[1] != other[1] and other[0].at - one[0].at <= SAME_MINUTES
        ]
        day = deeds[-1][0].day
        if len(pairs) >= TOGETHER_FEW:
            visits = ", ".join(f"{one[1]} and {other[1]}" for one, other in pairs[:3])
            yield of_person(person, day).open(
                f"Unusual: {len(pairs)} times in a year gas of two vehicles was weighed within "
                f"{SAME_MINUTES // timedelta(minutes=1)} minutes under one name, such as in visits {visits}.",
                "Let each person write under their own name.",
            )
        else:
            yield of_person(person, day).met("One vehicle at a time.")
