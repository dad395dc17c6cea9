"""Empty masses, instruments, and lines that are written late. Pure."""

from collections.abc import Iterator
from dataclasses import replace
from datetime import timedelta

from compliance.rules.facts import Line, Workshop
from compliance.rules.rule import Judgement, Record
from compliance.rules.seen import BOOK, grams

LATE = timedelta(days=1)
LATE_SHARE, LATE_FEW = 0.05, 3  # slips happen; one line in twenty is a habit


def tare_corrected(facts: Workshop) -> Iterator[Judgement]:
    """Report new tares that were not measured on the evacuated cylinder, or of which there is no photo."""
    for one in facts.tares:
        there = Record(f"cylinder:{one.cylinder}", one.on, part=one.on.isoformat())
        lacking = [] if one.source == "measured evacuated" else ["was not measured on the evacuated cylinder"]
        lacking += [] if one.photographed else ["has no photo of that day"]
        if lacking:
            yield there.open(
                f"Its empty mass became {grams(abs(one.change_mg))} {'more' if one.change_mg > 0 else 'less'}, "
                f"and that {' and '.join(lacking)}.",
                "Measure it evacuated, with a photo of scale and plate.",
            )
        else:
            yield there.met("Its empty mass was measured evacuated, with a photo.")


def instrument_check(facts: Workshop) -> Iterator[Judgement]:
    """Report scales and gauges whose check has run out, or was never entered."""
    for one in facts.instruments:
        there = Record(f"instrument:{one.name}")
        if one.good_until is None:
            yield there.open(
                f"Until when the check of this {one.kind} holds was never entered.",
                "Have it checked and enter until when that holds.",
            )
        elif one.good_until < facts.today:
            used = one.last_used_on is not None and one.last_used_on > one.good_until
            words = (
                f", and it was used since, last on {one.last_used_on.isoformat()}" if used and one.last_used_on else ""
            )
            yield replace(there, day=one.good_until).open(
                f"The check of this {one.kind} ran out on {one.good_until.isoformat()}{words}.",
                "Have it checked and enter until when that holds.",
            )
        else:
            yield there.met(f"Its check holds until {one.good_until.isoformat()}.")


def late_lines(facts: Workshop) -> Iterator[Judgement]:
    """Report a year in which more than a slip's share of the lines were written more than a day late."""
    for year in sorted({line.on.year for line in facts.lines}):
        lines = [line for line in facts.lines if line.on.year == year]
        late = [line for line in lines if line.recorded_at - line.at > LATE]
        there = replace(BOOK, day=late[-1].on if late else lines[-1].on, part=str(year))
        if len(late) > LATE_FEW and len(late) > LATE_SHARE * len(lines):
            yield replace(there, line=late[-1].line).open(
                f"{len(late)} of {len(lines)} lines of {year} were written more than a day after it happened, one "
                f"{_most_days(late)} days after.",
                "Write lines when they happen; enter the paper sheets that they were copied from.",
            )
        else:
            yield there.met(f"Few lines of {year} are late.")


def _most_days(lines: list[Line]) -> int:
    return max((line.recorded_at - line.at).days for line in lines)
