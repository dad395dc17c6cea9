"""Gas out before the circuit is opened, and gas that was let go. Pure."""

from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import replace

from compliance.rules.facts import Deed, Visit, Workshop
from compliance.rules.law.acts import GAS_ACTS, inside
from compliance.rules.rule import MET, Judgement
from compliance.rules.seen import (
    OPENINGS,
    above_the_air,
    arrived_open,
    grams,
    left_evacuated,
    of_line,
    of_visit,
    stood_empty,
    was_empty,
)
from inventory.measure.figures import bar
from shop.visits.steps import text_of


def released(
    facts: Workshop, covered: Callable[[str], bool], lost: Mapping[str, str], remark: str
) -> Iterator[Judgement]:
    """Judge lines that let gas go: as exempt though it is not, or by one of the causes that `lost` puts in words."""
    for line in facts.lines:
        if line.cause not in (*lost, "released-exempt") or not covered(line.refrigerant):
            continue
        gone = f"{grams(line.mass_mg)} of {line.refrigerant}"
        if line.cause == "released-exempt":
            words = f"{gone} was written as released because it is exempt, and it is not."
            yield of_line(line).breach(words, "Reverse the line if it is wrong; otherwise explain.")
        else:
            words = f"{gone} {lost[line.cause]}; {remark}"
            yield of_line(line).open(words, "Say what happened and what was done about it.")


def openings(facts: Workshop, covered: Callable[[str], bool]) -> Iterator[Judgement]:
    """Judge each visit whose circuit was opened, and say where a recovery is owed; `covered` takes the refrigerant."""
    for visit in facts.visits:
        if not covered(inside(visit)):
            continue
        places = [place for place, deed in enumerate(visit.deeds) if deed.kind in OPENINGS]
        judged = [_opened(visit, place) for place in places]
        owed = None if judged else _owed(visit)
        worst = next((one for one in judged if one.state != MET), judged[0] if judged else owed)
        if worst is not None:
            yield worst


def _opened(visit: Visit, place: int) -> Judgement:
    """Judge one opening by what stands before it; after a charge, by what stands since."""
    opened, before = visit.deeds[place], visit.deeds[:place]
    charges = [at for at, deed in enumerate(before) if deed.kind == "charge"]
    if charges:
        return _opened_again(visit, opened, before[charges[-1] + 1 :])
    legs = [deed for deed in before if deed.kind == "recovery"]
    stood = [deed for deed in before if deed.kind == "standing pressure"]
    there = of_visit(visit, opened, "opened")
    if arrived_open(visit):
        return there.met("The circuit stood open when the vehicle came, so there was nothing to recover.")
    stopped = text_of(legs[-1].data, "stopped") if legs else ""
    if legs and (stopped in ("", "done") or visit.proof == "accounted for" or visit.emptied):
        return there.met("It was recovered before the circuit was opened.")
    if legs:
        words = f"The recovery stopped ({stopped}) and the circuit was opened."
        way_out = "Enter the further leg if there was one; otherwise explain what became of what was left."
        return there.breach(words, way_out)
    if left_evacuated(visit):
        return there.met("The book had left it evacuated, so there was nothing to recover.")
    if was_empty(visit, before):
        return there.met("It stood at no more than the atmosphere before the circuit was opened.")
    seen = f"{_shown(visit, stood[-1])} above the atmosphere" if stood else "a pressure that nobody wrote down"
    words = f"The circuit was opened with no recovery before; it stood at {seen}."
    way_out = "Enter the recovery if there was one, with its time; otherwise explain what became of the gas."
    return there.breach(words, way_out)


def _opened_again(visit: Visit, opened: Deed, since: Iterable[Deed]) -> Judgement:
    since = tuple(since)
    emptied = was_empty(visit, since) or any(deed.kind == "recovery" for deed in since)
    there = of_visit(visit, opened, "opened")
    if emptied:
        return there.met("It was empty when the circuit was opened again.")
    words = "As entered, the circuit was opened after a charge, with no recovery between."
    return there.open(words, "Enter the recovery, or the opening anew with its own time.")


def _shown(visit: Visit, deed: Deed) -> str:
    return bar((above_the_air(visit, deed) or 0.0) * 1e5)


def _owed(visit: Visit) -> Judgement | None:
    stood = visit.of("standing pressure")
    if visit.handed_over or visit.of(*GAS_ACTS) or not stood or stood_empty(visit, stood[-1]) or arrived_open(visit):
        return None
    return replace(of_visit(visit, stood[-1], "opened"), person="").open(
        f"It stood at {_shown(visit, stood[-1])} above the atmosphere; recovery is owed before the circuit is opened.",
        "Recover, or hand the vehicle over with the circuit closed.",
    )
