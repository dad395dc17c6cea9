"""Whether a circuit is tight and dry: verdicts of pressure and vacuum holds, and of searches for leaks."""

from shop.bench import hold, leaksearch, vacuum
from shop.models import Step
from shop.visits.gas import living
from shop.visits.inputs import (
    CANNOT,
    assumed,
    hold_of,
    step_of,
    vacuum_of,
)
from shop.visits.steps import Data, si_of, text_of
from shop.visits.verdicts.told import Around, Told, own_cautions

METHOD_OF = {"hydrogen detector": "hydrogen", "by eye": "eye"}
GAS_OF = {"dry nitrogen": leaksearch.NITROGEN, "nitrogen with hydrogen": leaksearch.NITROGEN_HYDROGEN}


def of_hold(step: Step, shared: Around) -> Told:
    """Judge a pressure hold."""
    facts = hold_of(step, shared.atmosphere_pa)
    answer = hold.judge(facts)
    more = (*answer.questions, *own_cautions(answer, hold.CAUTIONS), *assumed(step))
    return Told(answer.sentence, more, answer, answer.picture, facts.space.is_estimate)


PULL_AGAIN = {
    "leak": "Find the leak, repair it, and pull again.",
    "moisture": "Change the drier where it is due, and pull again.",
    "outgassing": "Pull again, longer: what comes out of the oil is refrigerant.",
    "cannot-tell": "Hold it again with more readings on an absolute gauge, or pull again.",
}


def of_vacuum(step: Step, shared: Around) -> Told:
    """Judge a vacuum hold, and say what is to be done before it is pulled again."""
    facts = vacuum_of(step, shared.atmosphere_pa)
    answer = vacuum.judge(facts)
    again = PULL_AGAIN.get(answer.verdict)
    more = (*((again,) if again else ()), *own_cautions(answer, vacuum.CAUTIONS), *assumed(step))
    return Told(answer.sentence, more, answer, answer.picture, facts.space.is_estimate)


def of_search(step: Step, shared: Around) -> Told:
    """Judge a search together with the last pressure hold of the visit."""
    data = step.data
    pressure_pa = si_of(data, "pressure")
    if pressure_pa is None or not text_of(data, "gas"):
        return Told(f"{_counted(data)} Gas and pressure inside are not entered, so this has no limit.")
    joints, leaking, named = _joints(data)
    method = text_of(data, "method")
    answer = leaksearch.judge(
        leaksearch.LeakSearch(
            method=METHOD_OF.get(method, method),
            joints=joints,
            leaking=leaking,
            named=named,
            sensitivity_g_per_year=_sensitivity(data),
            gas=GAS_OF.get(text_of(data, "gas"), leaksearch.REFRIGERANT),
            gas_pressure_pa=pressure_pa,
            atmosphere_pa=shared.atmosphere_pa,
            instrument=text_of(data, "instrument"),
        ),
        _hold_beside(shared),
    )
    return Told(answer.sentence, own_cautions(answer, leaksearch.CAUTIONS), answer)


def _joints(data: Data) -> tuple[tuple[str, ...], tuple[str, ...], bool]:
    """Return all joints, those that leak, and whether the leaking ones are named: the others are only counted."""
    count, leaks = int(si_of(data, "joints") or 0), int(si_of(data, "leaking") or 0)
    names = list(dict.fromkeys(part.strip() for part in text_of(data, "where").split(",") if part.strip()))
    named = leaks > 0 and len(names) == leaks
    leaking = tuple(names) if named else tuple(f"joint {number}" for number in range(1, leaks + 1))
    rest = (f"other {number}" for number in range(1, max(count, leaks) - leaks + 1))
    return (*leaking, *rest), leaking, named


def _sensitivity(data: Data) -> float | None:
    own = si_of(data, "sensitivity")
    found = float(own) if own is not None else step_of(data, "instrument", 0.0)
    return found or None


def _hold_beside(shared: Around) -> hold.HoldAnswer | None:
    held = living(shared.visit, "pressure hold")
    if not held:
        return None
    held[-1].visit = shared.visit
    try:
        return hold.judge(hold_of(held[-1], shared.atmosphere_pa))
    except CANNOT:
        return None


def of_after_search(step: Step, shared: Around) -> Told:
    """Say what a search with the charge in found, with its limit."""
    data = step.data
    sensitivity = _sensitivity(data)
    if sensitivity is None or si_of(data, "leaking"):
        limit = "" if si_of(data, "leaking") else " What the instrument can see is not entered, so this has no limit."
        return Told(_counted(data) + limit)
    return Told(f"No leak found: none above {sensitivity:g} g a year at {_looked(data)}.")


def _counted(data: Data) -> str:
    leaking = int(si_of(data, "leaking") or 0)
    if leaking:
        return f"{leaking} of {_looked(data)} {'leaks' if leaking == 1 else 'leak'}."
    return f"No leak found at {_looked(data)}."


def _looked(data: Data) -> str:
    joints = int(si_of(data, "joints") or 0)
    return f"the {joints} joints looked at" if joints != 1 else "the one joint looked at"
