"""Rules of the book about cylinders, readings, instruments and what passes the gate, whatever the jurisdiction. Pure.

They are practice of the trade unless a law module says more. What a threshold is and why stands beside its name.
"""

from collections.abc import Iterator
from datetime import timedelta

from compliance.rules.facts import Consignment, Cylinder, Difference, Line, Workshop
from compliance.rules.rule import BREACH, MET, OPEN, Judgement
from compliance.rules.seen import grams, kilos

GONE = ("away", "done with")
FILLED_NEVER = ("single-trip", "can lot")
CUSTOMS = ("eighty-percent", "")  # limits that are practice, and what is reckoned for a mixture
STALE = timedelta(days=180)  # content nobody has weighed for half a year is known from memory alone
KEPT_LONG = timedelta(days=365)  # recovered gas that neither goes back into cars nor away
AWAY_LONG = timedelta(days=365)  # a cylinder that was only sent to be emptied is back by then
FOR_GOOD = ("return to supplier", "sale", "sister workshop")  # a cylinder sent for these is not expected back
TO_BE_WEIGHED = ("reclaim", "destruction")
PAPER_DUE = timedelta(days=60)  # a receiver has weighed and written by then (from experience)
ACCEPTED_SHARE = 0.02  # what oil, water and two scales leave between sent and accepted (from experience)
LATE = timedelta(days=1)
LATE_SHARE, LATE_FEW = 0.05, 3  # slips happen; one line in twenty is a habit


def weighings_disagree(facts: Workshop) -> Iterator[Judgement]:
    """Report weighing differences still open beyond what their readings can tell."""
    for one in facts.differences:
        if abs(one.mass_mg) <= one.can_tell_mg:
            continue
        if abs(one.open_mg) <= one.can_tell_mg:
            yield Judgement(MET, f"line:{one.line}", "The difference is explained.", day=one.on, line=one.line)
        else:
            yield _disagrees(one)


def _disagrees(one: Difference) -> Judgement:
    way = "less" if one.open_mg > 0 else "more"
    times = (
        f", {abs(one.open_mg) / one.can_tell_mg:.1f} times what the two readings can tell" if one.can_tell_mg else ""
    )
    return Judgement(
        OPEN,
        f"line:{one.line}",
        f"The cylinder weighed {grams(abs(one.open_mg))} {way} than the book{times}.",
        "Explain the difference with what was found, or put the wrong reading right.",
        one.on,
        one.line,
        one.by,
    )


def past_limit(facts: Workshop) -> Iterator[Judgement]:
    """Report cylinders that hold more than they may."""
    for one in facts.cylinders:
        if one.limit_mg is None or one.state in GONE:
            continue
        over_mg = one.held_mg - one.limit_mg
        if over_mg > 0:
            custom = one.limit_rule in CUSTOMS
            yield Judgement(
                OPEN if custom else BREACH,
                _about(one),
                f"It holds {kilos(over_mg)} more than {'custom lets it' if custom else 'it may'} "
                f"({one.limit_rule or 'a limit of ours for mixtures'}); one that is too full bursts when it warms.",
                "Let no one warm it; move the surplus into a cylinder with room.",
            )
        elif one.max_held_mg > one.limit_mg:
            yield Judgement(
                OPEN,
                _about(one),
                f"A reading found {kilos(one.max_held_mg - one.limit_mg)} more in it than it may hold of this.",
                "Say how it came to that, or put the reading right.",
                one.max_held_on,
                one.max_held_line,
                part="once",
            )
        else:
            yield Judgement(MET, _about(one), "It holds no more than it may.")


def past_test_date(facts: Workshop) -> Iterator[Judgement]:
    """Report cylinders filled after their test date, and those on the floor past it."""
    for one in facts.cylinders:
        due = one.requalify_by
        if due is None or one.kind in FILLED_NEVER:
            continue
        if one.filled_on is not None and one.filled_on > due:
            yield Judgement(
                BREACH,
                _about(one),
                f"It was filled on {one.filled_on.isoformat()}, and its test date was {due.isoformat()}.",
                "Empty it into another cylinder and have it tested.",
                one.filled_on,
                part="filled",
            )
        elif due < facts.today and one.state not in GONE:
            yield Judgement(
                OPEN,
                _about(one),
                f"Its test date was {due.isoformat()}: it may be emptied and takes nothing.",
                "Have it tested and enter the new date, or let it go.",
                due,
                part="due",
            )
        else:
            yield Judgement(MET, _about(one), "It was filled within its test date.", part="filled")


def single_trip_filled(facts: Workshop) -> Iterator[Judgement]:
    """Report single-trip cylinders that took something in after they came."""
    for one in facts.cylinders:
        if one.kind in FILLED_NEVER and one.filled_on is not None:
            yield Judgement(
                BREACH,
                _about(one),
                f"It is a single-trip cylinder, and gas went into it on {one.filled_on.isoformat()}.",
                "Empty it into a recovery cylinder and let it go; it may not be carried.",
                one.filled_on,
            )
        elif one.kind in FILLED_NEVER:
            yield Judgement(MET, _about(one), "Nothing was filled into it.")


def invoice(facts: Workshop) -> Iterator[Judgement]:
    """Report cylinders that were bought without the number of a paper."""
    papers = {one.number: one.paper_number for one in facts.cylinders}
    for line in facts.lines:
        if line.cause != "purchase" or line.cylinder is None:
            continue
        about = f"cylinder:{line.cylinder}"
        if papers.get(line.cylinder, ""):
            yield Judgement(MET, about, "The number of the paper it came with is entered.", day=line.on)
        else:
            yield Judgement(
                OPEN,
                about,
                f"{kilos(line.mass_mg)} came in it, and no paper number says from which delivery.",
                "Enter the number of the invoice or delivery note.",
                line.on,
                line.line,
                line.by,
            )


def opening_stock(facts: Workshop) -> Iterator[Judgement]:
    """Report opening stock entered after the book's first day: gas that was there before needs no second beginning."""
    if not facts.lines:
        return
    first = min(line.on for line in facts.lines)
    for line in facts.lines:
        if line.cause == "opening-stock" and line.on > first:
            yield Judgement(
                OPEN,
                f"line:{line.line}",
                f"{kilos(line.mass_mg)} were entered as opening stock on {line.on.isoformat()}, and the book begins on "
                f"{first.isoformat()}.",
                "Say where the gas was until then, with its paper.",
                line.on,
                line.line,
                line.by,
            )


def not_weighed(facts: Workshop) -> Iterator[Judgement]:
    """Report cylinders on the floor whose content nobody has weighed for half a year."""
    for one in facts.cylinders:
        if one.state in GONE or not one.held_mg or one.kind == "machine tank":
            continue
        last = one.last_weighed_on or one.first_in_on
        if last is not None and facts.today - last > STALE:
            yield Judgement(
                OPEN,
                _about(one),
                f"It holds {kilos(one.held_mg)} by the book and was last weighed on {last.isoformat()}.",
                "Weigh it.",
                last,
            )
        else:
            yield Judgement(MET, _about(one), "It was weighed within half a year.")


def recovered_kept(facts: Workshop) -> Iterator[Judgement]:
    """Report recovered or suspect gas that has stood for a year without anything going in or out."""
    for one in facts.cylinders:
        if one.grade not in ("recovered", "suspect") or not one.held_mg or one.state in GONE:
            continue
        days = [day for day in (one.filled_on, one.last_out_on, one.first_in_on) if day is not None]
        if days and facts.today - max(days) > KEPT_LONG:
            yield Judgement(
                OPEN,
                _about(one),
                f"{kilos(one.held_mg)} {one.refrigerant} {one.grade} have not moved since {max(days).isoformat()}.",
                "Send it to be reclaimed or destroyed, recycle it, or say what it waits for.",
                max(days),
            )
        else:
            yield Judgement(MET, _about(one), "What it holds has moved within a year.")


def away_long(facts: Workshop) -> Iterator[Judgement]:
    """Report refillable and recovery cylinders that were sent away to be emptied and never came back."""
    purposes = {sent.cylinder: sent.purpose for sent in facts.consignments}  # the last one stays
    for one in facts.cylinders:
        if one.state != "away" or one.kind not in ("refillable", "recovery"):
            continue
        since = one.last_out_on
        if purposes.get(one.number) not in FOR_GOOD and since is not None and facts.today - since > AWAY_LONG:
            yield Judgement(
                OPEN,
                _about(one),
                f"It has been away since {since.isoformat()}.",
                "Enter that it came back, or that it is done with.",
                since,
            )


def _about(one: Cylinder) -> str:
    return f"cylinder:{one.number}"


# --- the gate -------------------------------------------------------------------------------------------------


def consignment_paper(facts: Workshop) -> Iterator[Judgement]:
    """Report consignments without the receiver's address, paper or mass."""
    for one in facts.consignments:
        lacking = [] if one.has_address else ["the address of the receiver"]
        waited = facts.today - one.on > PAPER_DUE
        if waited and one.purpose != "return to supplier" and not one.paper_number.strip():
            lacking.append("the number of their paper")
        if waited and one.accepted_mg is None and one.purpose in TO_BE_WEIGHED:
            lacking.append("the mass that they accepted")
        if lacking:
            yield Judgement(
                OPEN,
                _sent(one),
                f"Of {kilos(one.mass_mg)} sent away on {one.on.isoformat()}, {' and '.join(lacking)} is not entered.",
                "Enter it, or ask the receiver.",
                one.on,
                one.line,
                part="paper",
            )
        elif waited:
            yield Judgement(MET, _sent(one), "Address and paper are entered.", day=one.on, line=one.line, part="paper")


def consignment_accepted(facts: Workshop) -> Iterator[Judgement]:
    """Report consignments of which the receiver accepted clearly more or less than was sent."""
    for one in facts.consignments:
        if one.accepted_mg is None:
            continue
        gap_mg = one.mass_mg - one.accepted_mg - (one.oil_mg or 0)
        allowed_mg = max(ACCEPTED_SHARE * one.mass_mg, 3 * one.u_mg)
        if abs(gap_mg) > allowed_mg:
            way = "less" if gap_mg > 0 else "more"
            yield Judgement(
                OPEN,
                _sent(one),
                f"{kilos(one.mass_mg)} were sent and {kilos(abs(gap_mg))} {way} were accepted, oil counted with it.",
                "Ask the receiver how it was weighed, and enter the oil.",
                one.on,
                one.line,
                part="accepted",
            )
        else:
            yield Judgement(
                MET, _sent(one), "What was accepted is what was sent.", day=one.on, line=one.line, part="accepted"
            )


def _sent(one: Consignment) -> str:
    return f"consignment:{one.line}"


FROM_NOWHERE = {"turned-up": "turned up", "customer-gas-in": "came in from a customer"}


def gas_from_nowhere(facts: Workshop) -> Iterator[Judgement]:
    """List gas that came in past every supplier: it turned up, a customer brought it."""
    for line in facts.lines:
        if line.cause in FROM_NOWHERE:
            yield Judgement(
                OPEN,
                f"line:{line.line}",
                f"{kilos(line.mass_mg)} {line.refrigerant} {FROM_NOWHERE[line.cause]}, past every supplier's paper.",
                "Say where it came from, and keep what shows it.",
                line.on,
                line.line,
                line.by,
            )


def missing_cylinder(facts: Workshop) -> Iterator[Judgement]:
    """List cylinders written off as missing."""
    for line in facts.lines:
        if line.cause == "missing":
            yield Judgement(
                OPEN,
                f"line:{line.line}",
                f"A cylinder with {kilos(line.mass_mg)} {line.refrigerant} is missing.",
                "Enter the report's number, or that it turned up.",
                line.on,
                line.line,
                line.by,
            )


# --- tares, instruments, late lines ---------------------------------------------------------------------------


def tare_corrected(facts: Workshop) -> Iterator[Judgement]:
    """Report new tares that were not measured on the evacuated cylinder, or of which there is no photo."""
    for one in facts.tares:
        about, part = f"cylinder:{one.cylinder}", one.on.isoformat()
        lacking = [] if one.source == "measured evacuated" else ["was not measured on the evacuated cylinder"]
        lacking += [] if one.photographed else ["has no photo of that day"]
        if lacking:
            yield Judgement(
                OPEN,
                about,
                f"Its empty mass became {grams(abs(one.change_mg))} {'more' if one.change_mg > 0 else 'less'}, "
                f"and that {' and '.join(lacking)}.",
                "Measure it evacuated, with a photo of scale and plate.",
                one.on,
                part=part,
            )
        else:
            yield Judgement(MET, about, "Its empty mass was measured evacuated, with a photo.", day=one.on, part=part)


def instrument_check(facts: Workshop) -> Iterator[Judgement]:
    """Report scales and gauges whose check has run out, or was never entered."""
    for one in facts.instruments:
        about = f"instrument:{one.name}"
        if one.good_until is None:
            yield Judgement(
                OPEN,
                about,
                f"Until when the check of this {one.kind} holds was never entered.",
                "Have it checked and enter until when that holds.",
            )
        elif one.good_until < facts.today:
            used = one.last_used_on is not None and one.last_used_on > one.good_until
            words = (
                f", and it was used since, last on {one.last_used_on.isoformat()}" if used and one.last_used_on else ""
            )
            yield Judgement(
                OPEN,
                about,
                f"The check of this {one.kind} ran out on {one.good_until.isoformat()}{words}.",
                "Have it checked and enter until when that holds.",
                one.good_until,
            )
        else:
            yield Judgement(MET, about, f"Its check holds until {one.good_until.isoformat()}.")


def late_lines(facts: Workshop) -> Iterator[Judgement]:
    """Report a year in which more than a slip's share of the lines were written more than a day late."""
    for year in sorted({line.on.year for line in facts.lines}):
        lines = [line for line in facts.lines if line.on.year == year]
        late = [line for line in lines if line.recorded_at - line.at > LATE]
        day = late[-1].on if late else lines[-1].on
        if len(late) > LATE_FEW and len(late) > LATE_SHARE * len(lines):
            yield Judgement(
                OPEN,
                "book",
                f"{len(late)} of {len(lines)} lines of {year} were written more than a day after it happened, one "
                f"{_most_days(late)} days after.",
                "Write lines when they happen; enter the paper sheets that they were copied from.",
                day,
                late[-1].line,
                part=str(year),
            )
        else:
            yield Judgement(MET, "book", f"Few lines of {year} are late.", day=day, part=str(year))


def _most_days(lines: list[Line]) -> int:
    return max((line.recorded_at - line.at).days for line in lines)
