"""What stands on the shelf, its empty masses and papers, the instruments, and lines that are written late. Pure."""

from collections.abc import Iterator
from dataclasses import replace
from datetime import timedelta

from compliance.rules.facts import Difference, Workshop
from compliance.rules.rule import Judgement, Record
from compliance.rules.seen import BOOK, grams, kilos, of_cylinder, of_line

GONE = ("away", "done with")
FILLED_NEVER = ("single-trip", "can lot")
CUSTOMS = ("eighty-percent", "")  # limits that are practice, and what is reckoned for a mixture
STALE = timedelta(days=180)  # content nobody has weighed for half a year is known from memory alone
KEPT_LONG = timedelta(days=365)  # recovered gas that neither goes back into cars nor away
LATE = timedelta(days=1)
LATE_SHARE, LATE_FEW = 0.05, 3  # slips happen; one line in twenty is a habit


def weighings_disagree(facts: Workshop) -> Iterator[Judgement]:
    """Report weighing differences still open beyond what their readings can tell."""
    for one in facts.differences:
        if abs(one.mass_mg) <= one.can_tell_mg:
            continue
        if abs(one.open_mg) <= one.can_tell_mg:
            yield replace(of_line(one), person="").met("The difference is explained.")
        else:
            yield _disagrees(one)


def _disagrees(one: Difference) -> Judgement:
    way = "less" if one.open_mg > 0 else "more"
    times = (
        f", {abs(one.open_mg) / one.can_tell_mg:.1f} times what the two readings can tell" if one.can_tell_mg else ""
    )
    words = f"The cylinder weighed {grams(abs(one.open_mg))} {way} than the book{times}."
    return of_line(one).open(words, "Explain the difference with what was found, or put the wrong reading right.")


def past_limit(facts: Workshop) -> Iterator[Judgement]:
    """Report cylinders that hold more than they may."""
    for one in facts.cylinders:
        if one.limit_mg is None or one.state in GONE:
            continue
        over_mg = one.held_mg - one.limit_mg
        if over_mg > 0:
            custom, there = one.limit_rule in CUSTOMS, of_cylinder(one)
            yield (there.open if custom else there.breach)(
                f"It holds {kilos(over_mg)} more than {'custom lets it' if custom else 'it may'} "
                f"({one.limit_rule or 'a limit of ours for mixtures'}); one that is too full bursts when it warms.",
                "Let no one warm it; move the surplus into a cylinder with room.",
            )
        elif one.max_held_mg > one.limit_mg:
            words = f"A reading found {kilos(one.max_held_mg - one.limit_mg)} more in it than it may hold of this."
            way_out = "Say how it came to that, or put the reading right."
            yield replace(of_cylinder(one, one.max_held_on, "once"), line=one.max_held_line).open(words, way_out)
        else:
            yield of_cylinder(one).met("It holds no more than it may.")


def past_test_date(facts: Workshop) -> Iterator[Judgement]:
    """Report cylinders filled after their test date, and those on the floor past it."""
    for one in facts.cylinders:
        due = one.requalify_by
        if due is None or one.kind in FILLED_NEVER:
            continue
        if one.filled_on is not None and one.filled_on > due:
            words = f"It was filled on {one.filled_on.isoformat()}, and its test date was {due.isoformat()}."
            way_out = "Empty it into another cylinder and have it tested."
            yield of_cylinder(one, one.filled_on, part="filled").breach(words, way_out)
        elif due < facts.today and one.state not in GONE:
            words = f"Its test date was {due.isoformat()}: it may be emptied and takes nothing."
            yield of_cylinder(one, due, part="due").open(words, "Have it tested and enter the new date, or let it go.")
        else:
            yield of_cylinder(one, part="filled").met("It was filled within its test date.")


def single_trip_filled(facts: Workshop) -> Iterator[Judgement]:
    """Report single-trip cylinders that took something in after they came."""
    for one in facts.cylinders:
        if one.kind in FILLED_NEVER and one.filled_on is not None:
            words = f"It is a single-trip cylinder, and gas went into it on {one.filled_on.isoformat()}."
            way_out = "Empty it into a recovery cylinder and let it go; it may not be carried."
            yield of_cylinder(one, one.filled_on).breach(words, way_out)
        elif one.kind in FILLED_NEVER:
            yield of_cylinder(one).met("Nothing was filled into it.")


def invoice(facts: Workshop) -> Iterator[Judgement]:
    """Report cylinders that were bought without the number of a paper."""
    papers = {one.number: one.paper_number for one in facts.cylinders}
    for line in facts.lines:
        if line.cause != "purchase" or line.cylinder is None:
            continue
        there = replace(of_line(line), about=f"cylinder:{line.cylinder}")
        if papers.get(line.cylinder, ""):
            yield replace(there, line=None, person="").met("The number of the paper it came with is entered.")
        else:
            words = f"{kilos(line.mass_mg)} came in it, and no paper number says from which delivery."
            yield there.open(words, "Enter the number of the invoice or delivery note.")


def opening_stock(facts: Workshop) -> Iterator[Judgement]:
    """Report opening stock entered after the book's first day: gas that was there before needs no second beginning."""
    if not facts.lines:
        return
    first = min(line.on for line in facts.lines)
    for line in facts.lines:
        if line.cause == "opening-stock" and line.on > first:
            yield of_line(line).open(
                f"{kilos(line.mass_mg)} were entered as opening stock on {line.on.isoformat()}, and the book begins on "
                f"{first.isoformat()}.",
                "Say where the gas was until then, with its paper.",
            )


def not_weighed(facts: Workshop) -> Iterator[Judgement]:
    """Report cylinders on the floor whose content nobody has weighed for half a year."""
    for one in facts.cylinders:
        if one.state in GONE or not one.held_mg or one.kind == "machine tank":
            continue
        last = one.last_weighed_on or one.first_in_on
        if last is not None and facts.today - last > STALE:
            yield of_cylinder(one, last).open(
                f"It holds {kilos(one.held_mg)} by the book and was last weighed on {last.isoformat()}.", "Weigh it."
            )
        else:
            yield of_cylinder(one).met("It was weighed within half a year.")


def recovered_kept(facts: Workshop) -> Iterator[Judgement]:
    """Report recovered or suspect gas that has stood for a year without anything going in or out."""
    for one in facts.cylinders:
        if one.grade not in ("recovered", "suspect") or not one.held_mg or one.state in GONE:
            continue
        days = [day for day in (one.filled_on, one.last_out_on, one.first_in_on) if day is not None]
        if days and facts.today - max(days) > KEPT_LONG:
            words = f"{kilos(one.held_mg)} {one.refrigerant} {one.grade} have not moved since {max(days).isoformat()}."
            way_out = "Send it to be reclaimed or destroyed, recycle it, or say what it waits for."
            yield of_cylinder(one, max(days)).open(words, way_out)
        else:
            yield of_cylinder(one).met("What it holds has moved within a year.")


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
            words = f"Until when the check of this {one.kind} holds was never entered."
            yield there.open(words, "Have it checked and enter until when that holds.")
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
                f"{max((line.recorded_at - line.at).days for line in late)} days after.",
                "Write lines when they happen; enter the paper sheets that they were copied from.",
            )
        else:
            yield there.met(f"Few lines of {year} are late.")
