"""The recovery certificate: what came out of a vehicle, what should have, what can remain, and where it is now."""

from collections.abc import Callable
from datetime import date
from math import ceil, floor
from typing import Any

from compliance.papers.afterwards import Whereabouts, whereabouts
from compliance.papers.ofvisit import (
    GIVE_OR_TAKE,
    Leg,
    OfVisit,
    doubt_of,
    earlier_lines,
    gross_said,
    of_visit,
    people_table,
    reading_said,
    u_of,
)
from compliance.papers.paper import RECOVERY, Block, Facts, NothingToIssue, Paper, Signatures, Table, Words
from compliance.papers.wording import Wording, issuer_of, lower_first
from inventory.causes import CAUSES, VEHICLE
from inventory.gases.cautions import CAUTIONS
from inventory.measure.own import Units
from inventory.measure.spoken import in_own_units
from inventory.models import Movement, Scale
from inventory.output.days import NOT_ENTERED
from shop.bench.answers import at_most
from shop.bench.evidence import EVIDENCE, WITNESSED, what_speaks
from shop.bench.recovery import RecoveryAnswer
from shop.bench.residue import EMPTIED
from shop.bench.standing import StandingAnswer
from shop.models import Step, Workshop
from shop.visits import endings, proofs
from shop.visits.gas import at_arrival
from shop.visits.steps import OPEN_ON_ARRIVAL, said, text_of

KINDS = ("standing pressure", "identified", "recovery", "remainder settled")
UNDONE = "The step that held the final pressure is reversed with its line, so no proof is reckoned: enter it anew."

ANEW = "Enter it at the recovery in the visit’s log and issue the certificate anew: the new one replaces this."
NOT_YET = f"Not proved yet: what is missing for the proof is named above. {ANEW}"
NOT_EMPTIED = (
    "That it is emptied is not proved yet: for that the pressure is read 5 minutes after the machine stopped, stands "
    f"under 0.9 of a standard atmosphere, and no part is cold or frosted. {ANEW}"
)


def recovery_certificate(workshop: Workshop, about: str, *, today: date) -> Paper:
    """Return the certificate of a visit's recovery, or of its arrival empty; raises `NothingToIssue` for neither."""
    one = of_visit(workshop, about)
    legs = endings.legs(one.visit)
    emptiness = "" if one.out or legs else _arrived_empty(one)
    gone = [whereabouts(one, leg, to_whom=True) for leg in one.out]
    blocks = (
        _vehicle(one),
        Words("Arrived empty" if emptiness else "Recovered", _verdict(one, emptiness), strong=True),
        *_recovered(one, legs),
        _standing(one, emptiness),
        *_reckoned(one),
        Facts("Evidence of a loss before arrival", _evidence(one)),
        *_gone(one, gone),
        people_table(one, KINDS),
        Signatures(("Who answers for it", "For the workshop")),
    )
    lines = {seq for leg in one.out for seq in leg.lines}
    lines |= earlier_lines(one) | {int(step.entry.seq) for step in legs if step.entry}
    lines |= {seq for place in gone for seq in place.lines} | {int(each.entry.seq) for each in one.beside}
    return Paper(
        kind=RECOVERY,
        title=f"Recovery certificate, visit {one.visit.number}{_in_the_title(one, emptiness)}",
        about=about,
        issuer=issuer_of(workshop),
        blocks=blocks,
        lines=tuple(sorted(lines)),
        bases=(GIVE_OR_TAKE, *_scales(one)),
        sources=_sources(one),
        cautions=(CAUTIONS["connect"].sentence, "Recovered mass may hold oil, air and water as well."),
        figures=_figures(one, emptiness),
    )


def _in_the_title(one: OfVisit, emptiness: str) -> str:
    """Return what the title says of the proof, since a title is all that is read at times; empty where it stands."""
    answer = verdict_of(one)
    if emptiness:
        return ": arrived empty"
    if answer is None:
        return ": not proved yet"
    if answer.verdict in ("short", "not explained"):
        return f": {answer.verdict}"
    return "" if answer.emptied or answer.verdict == "arrived empty" else ": emptying not proved yet"


def verdict_of(one: OfVisit) -> RecoveryAnswer | None:
    """Return the answer of the recovery's proof; None where none can be reckoned."""
    return one.shared.proof.answer if one.shared.proof is not None else None


def standing_of(one: OfVisit) -> StandingAnswer | None:
    """Return what the standing pressure on arrival says; None where it was not read or bounds nothing."""
    step = one.last("standing pressure")
    told = one.told.get(step.pk) if step else None
    return told.answer if told and isinstance(told.answer, StandingAnswer) else None


def evidence_letter(one: OfVisit) -> str | None:
    """Return the class of evidence, A to E: as it was settled, else the best that the steps reach.

    None where no loss needs any: what should have been inside is accounted for, and nothing was settled.
    """
    answer = verdict_of(one)
    if answer is not None and answer.verdict == "accounted for" and not _settled(one):
        return None
    settled = one.last("remainder settled")
    chosen = text_of(settled.data, "evidence")[:1] if settled else ""
    return chosen or proofs.evidence_of(one.visit, one.shared.atmosphere_pa).letter


def _arrived_empty(one: OfVisit) -> str:
    """Return the sentence that it arrived empty; raises `NothingToIssue` where nothing shows it."""
    standing, received = standing_of(one), one.last("received")
    if standing is not None and standing.verdict == "empty":
        return one.says(one.last("standing pressure"))
    if standing is not None:
        raise NothingToIssue(f"Nothing was recovered in visit {one.visit.number}, and {lower_first(standing.sentence)}")
    state = text_of(received.data, "state") if received else ""
    letter = evidence_letter(one)
    if state in OPEN_ON_ARRIVAL and letter in WITNESSED:
        return f"Arrived empty; {what_speaks(letter)}. Its state on arrival was “{state}”."
    raise NothingToIssue(
        f"Nothing was recovered in visit {one.visit.number}, and nothing shows that it arrived empty: no standing "
        "pressure is entered, and no photo of an open circuit."
    )


def _verdict(one: OfVisit, emptiness: str) -> tuple[str, ...]:
    if emptiness:
        return (emptiness, "Nothing was recovered, and no line of the book says otherwise.")
    amount = f"{one.gas_said(one.out)}, came out of the vehicle." if one.out else "Nothing came out by the readings."
    legs, answer = endings.legs(one.visit), verdict_of(one)
    says = one.says(legs[-1]) if legs else UNDONE
    return tuple(filter(None, (amount, says, NOT_YET if answer is None else "" if answer.emptied else NOT_EMPTIED)))


def _vehicle(one: OfVisit) -> Facts:
    came, visit = at_arrival(one.visit).refrigerant or "not known", f"{one.visit.number}, from {one.began}"
    return Facts("The vehicle", (*one.of_vehicle, ("Refrigerant when it came", came), ("Visit", visit)))


def _recovered(one: OfVisit, legs: list[Step]) -> tuple[Block, ...]:
    if not one.out and not legs:
        return ()
    heads = ("Line", "When", "Into", "Before", "After", "Refrigerant", "Mass", "Give or take", "Why it stopped")
    rows = [_row(one, leg) for leg in one.out]
    moved = {leg.movement.entry_id for leg in one.out}
    rows += [_nothing(one, step) for step in legs if step.entry and step.entry_id not in moved]
    if len(one.out) > 1:
        total, doubt = one.mass(sum(leg.mass_mg for leg in one.out)), one.give_or_take(u_of(one.out))
        rows.append(("All legs", "", "", "", "", "", total, doubt, ""))
    return (Table("What was recovered; readings are gross", heads, tuple(rows), numeric=(3, 4, 6, 7)),)


def _row(one: OfVisit, leg: Leg) -> tuple[str, ...]:
    gas, units = leg.movement, one.wording.units
    stopped = text_of(leg.step.data, "stopped") if leg.step else "written anew after a correction"
    return (
        str(leg.seq),
        one.when(gas.entry.occurred_at),
        str(leg.cylinder),
        gross_said(leg.before, leg, units),
        gross_said(leg.after, leg, units),
        f"{gas.refrigerant} {gas.grade}",
        one.mass(leg.mass_mg),
        one.give_or_take(gas.u_mg),
        stopped or NOT_ENTERED,
    )


def _nothing(one: OfVisit, step: Step) -> tuple[str, ...]:
    """The row of a leg whose readings show that nothing moved."""
    entry = step.entry
    assert entry is not None  # noqa: S101 - for the type: legs without a line are not asked about
    gross = [reading_said(each, one.wording.units) for each in entry.weighings.select_related("scale").order_by("line")]
    stopped = text_of(step.data, "stopped") or NOT_ENTERED
    ends = (gross[0], gross[-1]) if gross else ("not weighed", "not weighed")
    return (str(entry.seq), one.when(entry.occurred_at), "", *ends, "", "nothing", "", stopped)


def _scales(one: OfVisit) -> tuple[str, ...]:
    scales = {each.scale.pk: each.scale for leg in one.out for each in (leg.before, leg.after) if each}
    return tuple(f"Weighed on {scale}: {_scale_said(scale, one.wording)}." for scale in scales.values())


def _scale_said(scale: Scale, wording: Wording) -> str:
    step, serial = scale.step.words, f", serial {scale.serial}" if scale.serial else ""
    return f"steps of {step}{serial}, check good until {wording.on(scale.calibrated_until)}"


def _standing(one: OfVisit, emptiness: str) -> Facts:
    step = one.last("standing pressure")
    if step is None:
        return Facts("Standing pressure on arrival", (("Reading", NOT_ENTERED),))
    rows = [
        ("Reading", f"{one.fact(step, 'pressure')}, {one.when(step.occurred_at)}"),
        ("Coldest part", one.fact(step, "coldest") or NOT_ENTERED),
        ("Gauge", said(step.data, "gauge") or NOT_ENTERED),
        ("Photo", "kept in the book" if proofs.photographed_at(step) else said(step.data, "photo") or "none entered"),
    ]
    if one.says(step) != emptiness:
        rows.append(("What it says", one.says(step)))
    return Facts("Standing pressure on arrival", tuple(rows))


def _reckoned(one: OfVisit) -> tuple[Block, ...]:
    answer, proof = verdict_of(one), one.shared.proof
    if answer is None or proof is None:
        return ()
    units = one.wording.units
    rows = [
        (in_own_units(what, units), in_own_units(said_of_it, units))
        for what, said_of_it in answer.workings
        if not what.startswith("What speaks")
    ]
    rows[0] = (rows[0][0], f"{rows[0][1]} ({proof.expected_words})")
    rows.append(("What can remain, at most", can_remain(answer.residual_max_g, units)))
    rows.append(("What would change it", in_own_units(" ".join((*answer.would_change, *proof.assumed)), units)))
    return (Facts("Expected against recovered", tuple(rows)),)


def can_remain(residual_max_g: float | None, units: Units) -> str:
    """Return the most that can remain, rounded as the sentence of the recovery rounds it; None: liquid may remain."""
    if residual_max_g is None:
        return "none: liquid may remain"
    return in_own_units(f"at most {at_most(residual_max_g)}", units).removeprefix("at most ")


def _evidence(one: OfVisit) -> tuple[tuple[str, str], ...]:
    letter = evidence_letter(one)
    if letter is None:
        return (("Class", "none is needed: what should have been inside is accounted for"),)
    rows = [("Class", f"{letter}: {EVIDENCE[letter]}")]
    for each in _settled(one):
        words = CAUSES[each.cause].words.capitalize()
        rows.append((words, f"{one.mass(int(each.mass_mg))}, line {each.entry.seq}"))
    return tuple(rows)


def _settled(one: OfVisit) -> list[Movement]:
    return [each for each in one.beside if each.source.kind == VEHICLE]


def _gone(one: OfVisit, gone: list[Whereabouts]) -> tuple[Block, ...]:
    if not gone:
        return ()
    rows = [(f"From line {leg.seq}", place.words) for leg, place in zip(one.out, gone, strict=True)]
    return (Facts("Where the gas is now", tuple(rows)),)


def _sources(one: OfVisit) -> tuple[str, ...]:
    answers = (standing_of(one), verdict_of(one))
    return tuple(dict.fromkeys(text for answer in answers if answer for text in answer.sources))


def _figures(one: OfVisit, emptiness: str) -> dict[str, Any]:
    answer, standing, rest = verdict_of(one), standing_of(one), one.shared.rest
    bound_g = rest.at_most_g if rest else standing.at_most_g if standing else None
    return {
        "visit": one.visit.number,
        "opened_on": one.day(one.visit.opened_at).isoformat(),
        "recovered_mg": sum(leg.mass_mg for leg in one.out),
        "recovered_give_or_take_mg": doubt_of(one.out),
        "recovered_on": one.day(one.out[-1].movement.entry.occurred_at).isoformat() if one.out else None,
        "legs": [leg.figures() for leg in one.out],
        "verdict": "arrived empty" if emptiness else answer.verdict if answer else None,
        "evidence": evidence_letter(one),
        "short_mg": _mg(answer.missing_g if answer else None),
        "limit_mg": _mg(answer.limit_g if answer else None),
        "emptied": rest is not None and rest.state == EMPTIED,
        "residue_bound_mg": _mg(bound_g, ceil),
        "standing_at_least_mg": _mg(standing.at_least_g if standing else None, floor),
        "standing_at_most_mg": _mg(standing.at_most_g if standing else None, ceil),
    }


def _mg(grams: float | None, whole: Callable[[float], int] = round) -> int | None:
    """Return grams in whole milligrams; a bound from above is rounded by `ceil`, one from below by `floor`."""
    return None if grams is None else whole(grams * 1000)
