"""Photos that cannot be of what they stand beside: one picture at two vehicles, one taken long before. Pure."""

from collections import defaultdict
from collections.abc import Iterator
from datetime import timedelta

from compliance.rules.facts import Shot, Workshop
from compliance.rules.rule import Judgement, Record
from compliance.rules.seen import last_year

SAME_BITS = 3  # of 64, by which one picture saved twice may differ (from experience)
BANDS = 4  # one more than these bits: two looks that differ by no more have one band alike
OF_INSTRUMENTS = ("gauge", "scale")  # look alike whatever they say: of these only the very same file counts
LONG_BEFORE = timedelta(days=1)


def used_twice(facts: Workshop) -> Iterator[Judgement]:
    """Report photos that look the same and stand beside steps of two vehicles; the later one is named."""
    shots = [one for one in facts.shots if last_year(facts, one.step_at.date())]
    by_band: dict[tuple[int, str], list[Shot]] = defaultdict(list)
    for one in shots:
        other = next((each for each in _candidates(one, by_band) if _same(each, one)), None)
        there = _of(one, "twice")
        if other is None:
            yield there.met("No photo of another vehicle looks like it.")
        else:
            alike = "is the very same file as" if other.digest == one.digest else "looks the same as"
            yield there.open(
                f"Unusual: the photo of line {one.line} {alike} that of line {other.line}, at visit {other.visit} of "
                "another vehicle. It can also be the label of a second vehicle of one model.",
                "Look at both photos; say of which vehicle it is, and photograph the other anew if it is still here.",
            )
        for band in _bands(one):
            by_band[band].append(one)


def taken_before(facts: Workshop) -> Iterator[Judgement]:
    """Report photos that by the camera's clock were taken more than a day before their step."""
    for one in facts.shots:
        if one.taken_at is None:
            continue
        early = one.step_at - one.taken_at
        if early > LONG_BEFORE:
            yield _of(one, "taken").open(
                f"By the camera's clock the photo of line {one.line} was taken {_said(early)} before the {one.step} "
                "that it stands beside. It can also be that the clock was wrong, or that the customer had sent it.",
                "Look at the photo and at the clock of the phone; say which of both is right.",
            )
        else:
            yield _of(one, "taken").met("It was taken by the time of its step.")


def _said(early: timedelta) -> str:
    return "a day" if early.days == 1 else f"{early.days} days"


def _of(one: Shot, part: str) -> Record:
    return Record(f"line:{one.line}", one.step_at.date(), one.line, one.by, part)


def _bands(one: Shot) -> list[tuple[int, str]]:
    """Return under what a picture is looked for: its file, and each quarter of its look."""
    size = len(one.look) // BANDS
    looks = [(at, one.look[at * size : (at + 1) * size]) for at in range(BANDS)] if one.look else []
    return [(-1, one.digest), *looks]


def _candidates(one: Shot, by_band: dict[tuple[int, str], list[Shot]]) -> Iterator[Shot]:
    for band in _bands(one):
        yield from by_band.get(band, ())


def _same(one: Shot, other: Shot) -> bool:
    if one.vehicle == other.vehicle:
        return False
    if one.digest == other.digest:
        return True
    alike = bool(one.look and other.look) and not {one.shows, other.shows} & set(OF_INSTRUMENTS)
    return alike and (int(one.look, 16) ^ int(other.look, 16)).bit_count() <= SAME_BITS
