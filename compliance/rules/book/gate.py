"""What leaves and comes past the gate: consignments, gas from nowhere, missing cylinders. Pure."""

from collections.abc import Iterator
from datetime import timedelta

from compliance.rules.facts import Workshop
from compliance.rules.rule import Judgement
from compliance.rules.seen import kilos, of_consignment, of_cylinder, of_line

FOR_GOOD = ("return to supplier", "sale", "sister workshop")  # a cylinder sent for these is not expected back
TO_BE_WEIGHED = ("reclaim", "destruction")
PAPER_DUE = timedelta(days=60)  # a receiver has weighed and written by then (from experience)
ACCEPTED_SHARE = 0.02  # what oil, water and two scales leave between sent and accepted (from experience)
AWAY_LONG = timedelta(days=365)  # a cylinder that was only sent to be emptied is back by then
FROM_NOWHERE = {"turned-up": "turned up", "customer-gas-in": "came in from a customer"}


def away_long(facts: Workshop) -> Iterator[Judgement]:
    """Report refillable and recovery cylinders that were sent away to be emptied and never came back."""
    purposes = {sent.cylinder: sent.purpose for sent in facts.consignments}  # the last one stays
    for one in facts.cylinders:
        if one.state != "away" or one.kind not in ("refillable", "recovery"):
            continue
        since = one.last_out_on
        if purposes.get(one.number) not in FOR_GOOD and since is not None and facts.today - since > AWAY_LONG:
            yield of_cylinder(one, since).open(
                f"It has been away since {since.isoformat()}.", "Enter that it came back, or that it is done with."
            )


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
            yield of_consignment(one, "paper").open(
                f"Of {kilos(one.mass_mg)} sent away on {one.on.isoformat()}, {' and '.join(lacking)} is not entered.",
                "Enter it, or ask the receiver.",
            )
        elif waited:
            yield of_consignment(one, "paper").met("Address and paper are entered.")


def consignment_accepted(facts: Workshop) -> Iterator[Judgement]:
    """Report consignments of which the receiver accepted clearly more or less than was sent."""
    for one in facts.consignments:
        if one.accepted_mg is None:
            continue
        gap_mg = one.mass_mg - one.accepted_mg - (one.oil_mg or 0)
        allowed_mg = max(ACCEPTED_SHARE * one.mass_mg, 3 * one.u_mg)
        if abs(gap_mg) > allowed_mg:
            way = "less" if gap_mg > 0 else "more"
            words = f"{kilos(one.mass_mg)} were sent and {kilos(abs(gap_mg))} {way} were accepted, oil counted with it."
            yield of_consignment(one, "accepted").open(words, "Ask the receiver how it was weighed, and enter the oil.")
        else:
            yield of_consignment(one, "accepted").met("What was accepted is what was sent.")


def gas_from_nowhere(facts: Workshop) -> Iterator[Judgement]:
    """List gas that came in past every supplier: it turned up, a customer brought it."""
    for line in facts.lines:
        if line.cause in FROM_NOWHERE:
            words = f"{kilos(line.mass_mg)} {line.refrigerant} {FROM_NOWHERE[line.cause]}, past every supplier's paper."
            yield of_line(line).open(words, "Say where it came from, and keep what shows it.")


def missing_cylinder(facts: Workshop) -> Iterator[Judgement]:
    """List cylinders written off as missing."""
    for line in facts.lines:
        if line.cause == "missing":
            words = f"A cylinder with {kilos(line.mass_mg)} {line.refrigerant} is missing."
            yield of_line(line).open(words, "Enter the report's number, or that it turned up.")
