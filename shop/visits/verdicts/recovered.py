"""What arrived and what came out: verdicts of the standing pressure, the recovery, what was left."""

from collections.abc import Mapping

from inventory.gases import identify
from inventory.measure.uncertainty import resolution
from shop.bench import evidence, recovery
from shop.bench.answers import figure
from shop.bench.residue import EMPTIED
from shop.models import Step, Visit
from shop.visits import endings, proofs
from shop.visits.gas import lines_of, living
from shop.visits.inputs import (
    CANNOT,
    NEEDLE_STEP_PA,
    THERMOMETER_STEP_K,
    assumed,
    coldest_at,
    inside_of,
    width_of,
)
from shop.visits.proofs import Amount, Proof
from shop.visits.steps import si_of, text_of
from shop.visits.verdicts.told import Around, Told, own_cautions

OFFERED = ("R-12", "R-134a", "R-1234yf", "R-22", "R-290")
"""What a standing pressure is compared with: what is met in vehicles, and the two that are wrongly put into them."""


def of_standing(step: Step, shared: Around) -> Told:
    """Judge what a standing pressure says of the content; one that shows nothing inside, with its evidence."""
    late, which = proofs.days_late(step), _which(step)
    more = list(assumed(step))
    if late:
        more.append(f"Written {late} days late: its photo is no witness then, so evidence D at best.")
    try:
        answer = proofs.standing_read(step, shared.atmosphere_pa)
    except CANNOT as error:
        return Told(str(error), (*which, *more))
    sentence = answer.sentence
    if answer.verdict in ("liquid", "too-high"):
        more = [*which, *more]  # without liquid a pressure speaks for no refrigerant
    if answer.verdict == "empty" and not endings.legs(shared.visit):
        letter = proofs.evidence_of(shared.visit, shared.atmosphere_pa).letter
        sentence = f"Arrived empty, evidence {letter} ({evidence.EVIDENCE[letter]}). {answer.sentence}"
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
    bound = rest.sentence or f"By the pressure at the end at most {figure(rest.at_most_g)} g is left."
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
