"""What the measurements of a step say: one sentence for the log, and all that led to it for the page of the step."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace

from inventory.gases import identify
from inventory.measure.atmosphere import air_at
from inventory.measure.displays import moved
from inventory.measure.own import Units
from inventory.measure.uncertainty import resolution
from inventory.measure.units import find_pressure
from shop.bench import charging, evidence, hold, leakrate, leaksearch, performance, recovery, vacuum
from shop.bench.answers import Answer, at_most
from shop.bench.residue import EMPTIED, Rest
from shop.models import Step, Visit
from shop.visits import endings, proofs
from shop.visits.gas import lines_of, living
from shop.visits.inputs import (
    CANNOT,
    NEEDLE_STEP_PA,
    THERMOMETER_STEP_K,
    assumed,
    coldest_at,
    hold_of,
    inside_of,
    running_of,
    step_of,
    vacuum_of,
    width_of,
)
from shop.visits.lines import GAS_OF, METHOD_OF
from shop.visits.proofs import Amount, Proof
from shop.visits.scale import Target, target_said
from shop.visits.steps import READ_AGAINST, Data, air_pa, si_of, text_of


@dataclass(frozen=True)
class Told:
    """A verdict: its sentence, what else is said beside it, and the answer and picture it rests on."""

    sentence: str
    more: tuple[str, ...] = ()
    answer: Answer | None = None
    picture: object = None  # what `pictures.drawing_of` draws
    widened: bool = False  # whether an inside volume that nobody entered made it wider than it could be


@dataclass(frozen=True)
class Around:
    """What a verdict needs beside its step: the visit with its log, who reads it in which units and air, the proof."""

    visit: Visit
    units: Units
    proof: Proof | None = None
    why_no_proof: str = ""
    rest: Rest | None = None

    @property
    def atmosphere_pa(self) -> float:
        """The air's pressure."""
        return self.units.atmosphere_pa


def own_cautions(answer: Answer, standing: Sequence[str]) -> tuple[str, ...]:
    """Return the cautions that these readings gave reason for; the standing ones are on the page of the step."""
    return tuple(one for one in answer.cautions if one not in (*standing, leakrate.WITHIN_THREE))


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
    longer = "Hold it again, for the whole time, before it is charged." if facts.is_short else ""
    again = PULL_AGAIN.get(answer.verdict, longer)
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


OFFERED = ("R-12", "R-134a", "R-1234yf", "R-22", "R-290")
"""What a standing pressure is compared with: what is met in vehicles, and the two that are wrongly put into them."""


def of_standing(step: Step, shared: Around) -> Told:
    """Judge what a standing pressure says of the content; one that shows nothing inside, with its evidence."""
    late, which = proofs.days_late(step), _which(step)
    more = list(assumed(step))
    if late:
        more.append(
            f"Written {late} days late: its photo is no witness then, so it counts as a reading without a photo."
        )
    try:
        answer = proofs.standing_read(step, shared.atmosphere_pa)
    except CANNOT as error:
        return Told(str(error), (*which, *more))
    sentence = answer.sentence
    if answer.verdict in ("liquid", "too-high"):
        more = [*which, *more]  # without liquid a pressure speaks for no refrigerant
    if answer.verdict == "empty" and not endings.legs(shared.visit):
        letter = proofs.evidence_of(shared.visit, shared.atmosphere_pa).letter
        sentence = f"Arrived empty; {evidence.what_speaks(letter)}. {answer.sentence}"
        more.append("What it can still hold is a bound, not a mass of the book: it is not posted.")
    return Told(sentence, tuple(more), answer, widened=answer.inside.is_estimate and answer.verdict != "too-high")


def _which(step: Step) -> tuple[str, ...]:
    """Say which refrigerants the pressure speaks for, each by name, and that it replaces no identifier."""
    coldest_k, pressure_pa = coldest_at(step.data), si_of(step.data, "pressure")
    if coldest_k is None or pressure_pa is None:
        return ()
    found = identify.identify(
        OFFERED,
        pressure_pa=pressure_pa,
        temperature_k=coldest_k,
        u_pressure_pa=resolution(width_of(step.data, "gauge", NEEDLE_STEP_PA)),
        u_temperature_k=resolution(THERMOMETER_STEP_K),
        warmest_k=si_of(step.data, "warmest"),
        warmer_k=identify.WARMER_K,
    )
    parts = [
        f"{verdict}: {', '.join(codes)}"
        for verdict in (identify.FITS, identify.WITH_A_WARMER_PART, identify.CANNOT_TELL, identify.DOES_NOT_FIT)
        if (codes := found.codes(verdict))
    ]
    return (
        f"By the pressure alone, if liquid is inside: {'; '.join(parts)}. {found.sentence} "
        "It never replaces an identifier.",
    )


def of_recovery(step: Step, shared: Around) -> Told | None:
    """Judge the legs together, at the last of them."""
    legs = endings.legs(shared.visit)
    if not legs or step.pk != legs[-1].pk:
        return None
    if shared.proof is None and shared.why_no_proof:
        return _without_proof(shared)
    if shared.proof is None:
        stopped = text_of(step.data, "stopped")
        unfinished = f"No proof yet: this leg stopped with “{stopped}”, so the recovery is not at its end."
        emptied = shared.rest is not None and shared.rest.state == EMPTIED
        return Told(f"{shared.rest.sentence} {unfinished}" if shared.rest and emptied else unfinished)
    return told_proof(shared.proof, len(legs))


def _without_proof(shared: Around) -> Told:
    """Say what is left by the pressure, where nothing says what should have come out."""
    rest = shared.rest
    if rest is None or rest.at_most_g is None:
        return Told(f"No proof yet: {shared.why_no_proof}")
    bound = rest.sentence or f"By the pressure at the end at most {at_most(rest.at_most_g)} is left."
    widened = inside_of(shared.visit.vehicle, shared.visit.workshop).is_estimate
    return Told(f"{bound} {shared.why_no_proof}", rest.taken, widened=widened)


def proof_in(visit: Visit, told: Mapping[int, Told]) -> Told | None:
    """Return what shows what came out: the proof at the last leg, else that the vehicle arrived empty; None else."""
    legs, stood = endings.legs(visit), living(visit, "standing pressure")
    if legs:
        return told.get(legs[-1].pk)
    arrived = told.get(stood[-1].pk) if stood else None
    return Told(arrived.sentence) if arrived and arrived.answer and arrived.answer.verdict == "empty" else None


def told_proof(proof: Proof, legs: int) -> Told:
    """Return the proof of a recovery in its sentence, with what would change it."""
    answer = proof.answer
    together = (f"All {legs} legs together.",) if legs > 1 else ()
    cautions = own_cautions(answer, recovery.CAUTIONS)
    more = (*together, *answer.would_change, *cautions, f"Expected: {proof.expected_words}.", *proof.assumed)
    return Told(answer.sentence, more, answer, widened=answer.inside.is_estimate)


def of_opened(step: Step, shared: Around) -> Told | None:
    """Say where a circuit was opened with something in it."""
    stood = living(shared.visit, "standing pressure")
    if not stood or any(leg.occurred_at <= step.occurred_at for leg in endings.legs(shared.visit)):
        return None
    why = proofs.arrived_empty_refused(shared.visit, stood[-1].data, shared.atmosphere_pa)
    return Told(f"Opened with no recovery before it. {why}") if why else None


def of_settled(step: Step, shared: Around) -> Told | None:
    """Say what the vehicle lost since it was charged here."""
    answer = proofs.loss_since_charge(shared.visit, residue_of(step))
    if answer is None:
        return None
    return Told(answer.sentence, answer.cautions, answer)


def residue_of(step: Step) -> Amount:
    """Return what a settled remainder put down to the vacuum pump."""
    lines = lines_of([step], "evacuated-residue")
    return Amount(sum(one.mass_mg for one in lines) / 1000, sum(one.u_mg for one in lines) / 1000)


def of_charge(step: Step, shared: Around) -> Told | None:
    """Judge all legs of the charge together, at the last of them."""
    legs, unit = living(shared.visit, "charge"), shared.units.mass
    target = _aim(legs)
    if not legs or target is None or not lines_of(legs, "charge"):
        return None
    if step.pk != legs[-1].pk:
        return Told(f"Target {moved(target.mass_mg, unit)} for all legs together.") if step in legs else None
    return _told(target, proofs.summed(lines_of(legs, "charge")), unit, len(legs))


def _aim(legs: Sequence[Step]) -> Target | None:
    """Return the target that the last leg which has one names."""
    for leg in reversed(legs):
        if target := leg.data.get("target"):
            tolerance = leg.data.get("tolerance")
            return Target(int(target["mg"]), int(tolerance["mg"]) if tolerance else 0)
    return None


def _told(target: Target, amount: Amount, unit: str, legs: int) -> Told:
    """Return how a charge stands to its target; without a tolerance there is no band to be within."""
    together = (f"All {legs} legs together.",) if legs > 1 else ()
    if not target.tolerance_mg:
        said = target_said(round(amount.grams * 1000), round(amount.u_g * 1000), target, unit)
        return Told(said, (*together, "No tolerance is entered, so there is no band to be within."))
    answer = charging.judge(target.against(amount.grams, amount.u_g))
    return Told(answer.sentence, (*together, *own_cautions(answer, charging.CAUTIONS)), answer)


def of_running(step: Step, shared: Around) -> Told:
    """Judge the running test, what it finds and what it asks."""
    answer = performance.judge(running_of(step, shared.atmosphere_pa))
    more = (*answer.questions[1:], *answer.findings[1:])
    return Told(answer.sentence, more, answer, answer.diagram)


_JUDGES: dict[str, Callable[[Step, Around], Told | None]] = {
    "pressure hold": of_hold,
    "vacuum hold": of_vacuum,
    "standing pressure": of_standing,
    "leak search": of_search,
    "after-search": of_after_search,
    "recovery": of_recovery,
    "remainder settled": of_settled,
    "circuit opened": of_opened,
    "charge": of_charge,
    "running test": of_running,
}


def around(visit: Visit, units: Units) -> Around:
    """Return what the steps of a visit share, the recovery's proof worked out once."""
    rest = endings.rest_of(visit, units.atmosphere_pa)
    try:
        return Around(visit, units, proofs.proof_of(visit, units.atmosphere_pa), rest=rest)
    except CANNOT as error:
        return Around(visit, units, None, str(error), rest)


def told_of(shared: Around) -> dict[int, Told]:
    """Return the verdicts of the steps of a visit whose log was fetched, by the key of the step, in their order."""
    found = {}
    for step in shared.visit.steps.all():
        step.visit = shared.visit
        if (said := told(step, shared)) is not None:
            found[step.pk] = said
    return found


def told(step: Step, shared: Around) -> Told | None:
    """Return the verdict of a step, or why none can be given, or None where there is nothing to be judged."""
    judge = _JUDGES.get(step.kind)
    if judge is None:
        return None
    try:
        said = judge(step, shared)
    except CANNOT as error:
        said = Told(f"Cannot tell: {error}")
    words = _by_height(step, shared) if said is not None and READ_AGAINST in step.data else ""
    return replace(said, more=(*said.more, words)) if said is not None and words else said


def _by_height(step: Step, shared: Around) -> str:
    """Say what was reckoned with where nobody had entered the height and that decides what a pressure says; else ""."""
    air = air_at(None)
    marked = find_pressure(str((step.data.get("pressure") or {}).get("unit", "")))
    if step.kind != "standing pressure" or marked is None or marked[1] not in ("gauge", "vacuum"):
        return ""
    found = {_standing_verdict(step, shared, around_pa) for around_pa in (air.low_pa, air.pressure_pa, air.high_pa)}
    words = f"{air.words[:1].upper()}{air.words[1:]}. What this pressure says depends on it."
    return "" if len(found) == 1 else words


def _standing_verdict(step: Step, shared: Around, around_pa: float) -> str:
    """Return what a standing pressure, as its gauge showed it, would say in other air."""
    apart_pa = around_pa - air_pa(step.data, around_pa)
    pressure = step.data["pressure"]
    there = {
        "pressure": {**pressure, "si": pressure["si"] + apart_pa},
        "barometer": {"si": around_pa},
    }  # one air, no range
    other = Step(visit=step.visit, kind=step.kind, data={**step.data, **there})
    try:
        return proofs.standing_read(other, around_pa).verdict
    except CANNOT:
        return ""
