"""People: certificates of those who handle gas, and what their visits have in common that others' have not. Pure."""

from collections import defaultdict
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta
from itertools import combinations, groupby, pairwise

from compliance.rules.book.readings import FEWEST_RATIOS
from compliance.rules.chance import UNUSUAL, in_words, tail_beside, together, unusual
from compliance.rules.facts import Deed, Visit, Workshop
from compliance.rules.rule import Judgement
from compliance.rules.seen import (
    BOOK,
    HANDS_ON,
    arrived_open,
    charged_mg,
    day_of,
    last_year,
    leak_measured,
    of_person,
    taken_as_empty,
    worker,
)

FEWEST_VISITS = 12  # of a person in a year, below which a share says nothing
# Rare of two things at once: with a share of its own below one in two thousand, the rule speaks up in two honest
# years of a hundred (study, tuning seeds), however many arrive empty at a workshop.
UNUSUAL_TOGETHER = 1 / 300
# Hose off one car, another's cylinder weighed and its hose on: slower than this. In 160 honest years of one person on
# the tuning seeds none came to three such pairs, though one car in five is begun while another stands under vacuum.
SAME_MINUTES = timedelta(minutes=6)
TOGETHER_FEW = 5
# Two cars of one pair of hands overlap while one stands under vacuum. Even where six in ten are begun so, their steps
# never took six turns on a day; under a name that two share they do so some fifteen times a year (study, tuning seeds).
TO_AND_FRO, TO_AND_FRO_FEW = 6, 3
AT_THE_CAR = (
    "standing pressure", "recovery", "circuit opened", "repair", "part in", "circuit closed", "charge", "after-search",
)  # fmt: skip


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
    """Report people whose vehicles arrive empty, by the record, far more often than the others'.

    An open circuit shows its hole; of the rest, how often no leak was found in what arrived empty counts as well.
    """
    closed = [one for one in _worked_on(facts) if not arrived_open(one)]
    alike, silent = _shares(closed, taken_as_empty), _shares(filter(taken_as_empty, closed), _no_leak_found)
    for person, share in _shares(_worked_on(facts), taken_as_empty).items():
        none = silent.get(person, Share())
        both = together(alike[person].tail, none.tail) if person in alike else 1.0
        words = f"vehicles arrived empty, {none.k} of them closed and with no leak found"
        tail = both if both < UNUSUAL_TOGETHER else share.tail
        way_out = "Look at their readings and photos on arrival, and at the leaks found."
        yield from _of_share(share, person, words, way_out, tail, tail < UNUSUAL or both < UNUSUAL_TOGETHER)


def no_pressure_by_person(facts: Workshop) -> Iterator[Judgement]:
    """Report people who leave out the standing pressure far more often than the others."""
    way_out = "Read it before the hoses go on; it is the best witness of what was inside."
    words = "visits have no standing pressure"
    for person, share in _shares(_worked_on(facts), _no_pressure).items():
        yield from _of_share(share, person, words, way_out, share.tail, share.tail < UNUSUAL)


@dataclass
class Share:
    """In how many of somebody's visits of a year something holds, and in how many of everybody else's."""

    n: int = 0
    k: int = 0
    others_n: int = 0
    others_k: int = 0
    day: date = date.min

    @property
    def tail(self) -> float:
        """How likely so many or more are by chance."""
        return tail_beside(self.n, self.k, self.others_n, self.others_k)


def _worked_on(facts: Workshop) -> list[Visit]:
    return [one for one in facts.visits if last_year(facts, day_of(one)) and one.of("charge", "recovery")]


def _no_leak_found(visit: Visit) -> bool:
    return not visit.of("repair") and not leak_measured(visit)


def _no_pressure(visit: Visit) -> bool:
    return not visit.of("standing pressure") and not arrived_open(visit)


def _shares(visits: Iterable[Visit], counts: Callable[[Visit], bool]) -> dict[str, Share]:
    """Return the share of each person beside everybody else's."""
    shares: dict[str, Share] = defaultdict(Share)
    for visit in visits:
        share = shares[worker(visit)]
        share.n, share.k, share.day = share.n + 1, share.k + counts(visit), day_of(visit)
    all_n, all_k = sum(one.n for one in shares.values()), sum(one.k for one in shares.values())
    for one in shares.values():
        one.others_n, one.others_k = all_n - one.n, all_k - one.k
    return shares


def _of_share(share: Share, person: str, words: str, way_out: str, tail: float, rare: bool) -> Iterator[Judgement]:
    """Judge somebody's share. Where nobody else works there is nothing to compare it with, and that is said."""
    if share.n < FEWEST_VISITS or not person:
        return
    there, words = of_person(person, share.day), f"of {share.n} visits in a year {share.k} {words}"
    if share.others_n < FEWEST_VISITS:
        words = f"{words}; others have {share.others_n} visits, too few to compare with."
        yield there.met(words[0].upper() + words[1:])
    elif rare:
        yield there.open(
            f"Unusual: {words}; at the share of the others this comes by chance {in_words(tail)}.", way_out
        )
    else:
        yield there.met(f"{words[0].upper()}{words[1:]}.")


def leaks_never_found(facts: Workshop) -> Iterator[Judgement]:
    """Report a year in which many vehicles arrived empty and were filled, and a leak was named in few of them."""
    visits = [one for one in facts.visits if last_year(facts, day_of(one)) and taken_as_empty(one) and charged_mg(one)]
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
    """Report people whose hands were at two vehicles at once again and again: one name, several hands.

    Gas of both was weighed minutes apart, or the steps of a day go to and fro between the two.
    """
    for person, deeds in _by_hands(facts).items():
        weighed = [one for one in deeds if one[0].kind in ("recovery", "charge") and one[0].moved]
        minutes_apart = [
            (one[1], other[1])
            for one, other in pairwise(weighed)
            if one[1] != other[1] and other[0].at - one[0].at <= SAME_MINUTES
        ]
        to_and_fro = list(_to_and_fro(deeds))
        there = of_person(person, deeds[-1][0].day)
        way_out = "Let each person write under their own name."
        if len(minutes_apart) >= TOGETHER_FEW:
            yield there.open(
                f"Unusual: {len(minutes_apart)} times in a year gas of two vehicles was weighed within "
                f"{SAME_MINUTES // timedelta(minutes=1)} minutes under one name, such as in visits "
                f"{_named(minutes_apart)}.",
                way_out,
            )
        elif len(to_and_fro) >= TO_AND_FRO_FEW:
            yield there.open(
                f"Unusual: {len(to_and_fro)} times in a year the steps under one name went {TO_AND_FRO} times or more "
                f"to and fro between two vehicles on a day, such as in visits {_named(to_and_fro)}.",
                way_out,
            )
        elif weighed:
            yield there.met("One vehicle at a time.")


def _by_hands(facts: Workshop) -> dict[str, list[tuple[Deed, int]]]:
    """Return the steps of a year that hands do at a vehicle, by person, in order, each with its visit's number."""
    found: dict[str, list[tuple[Deed, int]]] = defaultdict(list)
    for visit in facts.visits:
        for deed in visit.of(*AT_THE_CAR):
            if last_year(facts, deed.day):
                found[deed.doer].append((deed, visit.number))
    for deeds in found.values():
        deeds.sort(key=lambda one: (one[0].at, one[1]))
    return found


def _to_and_fro(deeds: Iterable[tuple[Deed, int]]) -> Iterator[tuple[int, int]]:
    """Yield pairs of visits between which hands went to and fro on a day."""
    for _, of_day in groupby(deeds, key=lambda one: one[0].day):
        numbers = [number for _, number in of_day]
        for pair in combinations(dict.fromkeys(numbers), 2):
            turns = sum(one != other for one, other in pairwise(number for number in numbers if number in pair))
            if turns >= TO_AND_FRO:
                yield pair


def _named(pairs: Sequence[tuple[int, int]]) -> str:
    return ", ".join(f"{one} and {other}" for one, other in pairs[:3])
