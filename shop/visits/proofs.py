"""What the steps of a visit say together about the gas that came out: the proof, the remainder, the loss since charge.

Read from a visit whose log was fetched (`log.with_log`) and, where there was a charge before, from the book.
Masses from the book are milligrams, calculations are in grams. Raises `MeasurementError` and `FluidError` with a
sentence where something that is needed was not entered.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, fields, replace
from datetime import datetime

from inventory.measure import uncertainty
from inventory.measure.uncertainty import U
from inventory.models import Movement
from shop.bench import evidence, hold, leakrate, recovery, standing
from shop.bench.answers import MeasurementError
from shop.bench.evidence import Evidence, Remainder
from shop.bench.leakrate import BetweenVisitsAnswer
from shop.bench.recovery import Recovery, RecoveryAnswer
from shop.models import Step, Visit
from shop.visits.endings import OUT, ending_of, has_ended, legs, rest_of
from shop.visits.gas import answered, at_arrival, label_of, lines_of, living
from shop.visits.inputs import CANNOT, hold_of, standing_of
from shop.visits.steps import OPEN_ON_ARRIVAL, Data, air_pa, si_of, text_of

LATE_S = 86_400.0


@dataclass(frozen=True)
class Amount:
    """A mass in grams with its standard uncertainty, and where it comes from."""

    grams: float
    u_g: float
    words: str = ""


@dataclass(frozen=True)
class Proof:
    """The proof of a visit's recovery: the facts as they went in, the answer, and where the expectation comes from."""

    facts: Recovery
    answer: RecoveryAnswer
    expected_words: str
    assumed: tuple[str, ...]


def recovered(visit: Visit) -> Amount:
    """Return what all legs together took out of the vehicle, by the book; the span error of one scale adds linearly."""
    return summed([one for one in lines_of(legs(visit), *OUT) if one.source.kind == "vehicle"])


def summed(lines: Sequence[Movement], words: str = "") -> Amount:
    """Return what movements come to together."""
    return Amount(sum(one.mass_mg for one in lines) / 1000, total_u(lines).total_g, words)


def total_u(lines: Iterable[Movement]) -> U:
    """Return the standard uncertainty of the sum of movements, in grams."""
    return uncertainty.total(u_parts(lines))


def u_parts(lines: Iterable[Movement]) -> tuple[tuple[str, U, int], ...]:
    """Return the uncertainties of movements as `uncertainty.total` takes them."""
    return tuple((str(one.scale_id or ""), U(one.u_random_mg / 1000, one.u_span_mg / 1000), 1) for one in lines)


def charges_before(visit: Visit, before: datetime | None = None) -> list[Movement]:
    """Return the charges of the vehicle before this visit, or `before` then, newest first, reversed ones left out."""
    lines = Movement.objects.standing().filter(target__in=visit.vehicle.account.together(), cause="charge")
    lines = lines.filter(entry__occurred_at__lt=before or visit.opened_at)
    return list(lines.select_related("entry").order_by("-entry__occurred_at"))


def _days(charge: Movement, until: datetime) -> float:
    return (until - charge.entry.occurred_at).total_seconds() / 86_400


def known_charge(visit: Visit, charges: list[Movement]) -> Amount | None:
    """Return what the book charged and nobody has taken out since, None where the content was not known at arrival."""
    held_g = at_arrival(visit).known_g
    if held_g is None or not charges:
        return None
    parts: list[Movement] = []
    for one in charges:
        parts.append(one)
        if sum(part.mass_mg for part in parts) / 1000 >= held_g:
            break
    return Amount(held_g, total_u(parts).total_g, "charged here by the book")


def leak_history(visit: Visit) -> tuple[float, float]:
    """Return (grams a year, its u) of the last loss on the road that the book knows; nothing once it was repaired."""
    lost = (
        Movement.objects.standing()
        .filter(source__in=visit.vehicle.account.together(), cause="lost-on-the-road")
        .filter(entry__occurred_at__lt=visit.opened_at)
        .select_related("entry")
        .order_by("-entry__occurred_at")
        .first()
    )
    if lost is None:
        return 0.0, 0.0
    when = lost.entry.occurred_at
    charges = charges_before(visit, when)
    days = _days(charges[0], when) if charges else 0.0
    if days < leakrate.SHORTEST_DAYS_FOR_A_RATE or _mended_since(visit, lost.entry.context, when):
        return 0.0, 0.0
    years = days / leakrate.YEAR_DAYS
    return lost.mass_mg / 1000 / years, lost.u_mg / 1000 / years


def _mended_since(visit: Visit, context: str, when: datetime) -> bool:
    """Whether a repair before this visit stands in the visit of the loss or after it."""
    mended = Step.objects.standing().filter(visit__vehicle=visit.vehicle, kind__in=("repair", "part in"))
    before = mended.filter(occurred_at__lt=visit.opened_at).select_related("visit")
    return any(step.visit.context == context or step.occurred_at > when for step in before)


def expected(visit: Visit, charges: list[Movement]) -> Amount:
    """Return what should have been inside: the book's own charge less its leak, else the label with its tolerance."""
    known = known_charge(visit, charges)
    if known is not None:
        rate, u_rate = leak_history(visit)
        days = max(0.0, _days(charges[0], visit.opened_at))
        grams, u_g = recovery.expected_after_leak(
            charged_g=known.grams, u_charged_g=known.u_g, leak_g_per_year=rate, u_leak_g_per_year=u_rate, days=days
        )
        less = f", less {known.grams - grams:.0f} g by its last known leak" if rate else ""
        return Amount(grams, u_g, known.words + less)
    arrival = at_arrival(visit)
    if charges and arrival.refrigerant not in ("", label_of(visit)[0]):
        held_mg = arrival.held_mg.get(arrival.refrigerant) or int(charges[0].mass_mg)
        return Amount(
            held_mg / 1000, total_u(charges[:1]).total_g, "charged here, at least: what it held before is not known"
        )
    return _by_label(visit, arrival.refrigerant)


def _by_label(visit: Visit, code: str) -> Amount:
    labels, vehicle = living(visit, "label read"), visit.vehicle
    labelled = label_of(visit)[0]
    if labelled and code and labelled != code:
        raise MeasurementError(f"The label is for {labelled}, and how much {code} should be inside nobody has entered.")
    data: Data = answered(labels[-1]) if labels else {}
    mass = data.get("mass")
    if mass:
        mass_mg, tolerance = int(mass["mg"]), data.get("tolerance")
        tolerance_mg = int(tolerance["mg"]) if tolerance else int(vehicle.nameplate_tolerance_mg or 0)
    elif vehicle.nameplate_mg:
        mass_mg, tolerance_mg = int(vehicle.nameplate_mg), int(vehicle.nameplate_tolerance_mg or 0)
    else:
        raise MeasurementError("Nothing says how much should be inside: no label, and no charge that the book knows.")
    words = "label" if tolerance_mg else "label, taken as exact since no tolerance is entered"
    return Amount(mass_mg / 1000, recovery.label_u_g(tolerance_mg / 1000), words)


def evidence_of(visit: Visit, atmosphere_pa: float) -> Evidence:
    """Return what speaks for a loss before arrival; a photo counts where it, or the step that names it, was in time."""
    stood, received = living(visit, "standing pressure"), living(visit, "received")
    return Evidence(
        standing=_standing_answer(stood[-1], atmosphere_pa) if stood else None,
        standing_photographed=bool(stood) and _photographed(stood[-1]),
        open_photographed=bool(received)
        and text_of(received[-1].data, "state") in OPEN_ON_ARRIVAL
        and _photographed(received[-1]),
        leak_photographed=any(
            (si_of(step.data, "leaking") or 0) > 0 and _photographed(step) for step in living(visit, "leak search")
        ),
    )


def standing_read(step: Step, atmosphere_pa: float) -> standing.StandingAnswer:
    """Return what a standing pressure says, by the refrigerant that arrived; raises what `standing_of` raises."""
    return standing.read_standing(standing_of(step, at_arrival(step.visit).refrigerant, atmosphere_pa))


def _standing_answer(step: Step, atmosphere_pa: float) -> standing.StandingAnswer | None:
    try:
        return standing_read(step, atmosphere_pa)
    except CANNOT:
        return None


def _photographed(step: Step) -> bool:
    """Whether there is a photo of a step: added here within a day of it, or stated where the step was in time."""
    if (added_at := photographed_at(step)) is not None and (added_at - step.occurred_at).total_seconds() <= LATE_S:
        return True
    return bool(text_of(step.data, "photo")) and not days_late(step)


def photographed_at(step: Step) -> datetime | None:
    """Return when the first photo of a step was written, of one whose log was fetched; None of any other.

    A step that was entered anew keeps the photos of the one it replaces.
    """
    if not hasattr(step, "photographed_at"):
        return None
    found = [getattr(one, "photographed_at", None) for one in with_replaced(step)]
    return min((at for at in found if at is not None), default=None)


def with_replaced(step: Step) -> list[Step]:
    """Return a step and those that it replaced, newest first, from the fetched rows of its visit."""
    rows = {one.pk: one for one in step.visit.steps.all()}
    found = [step]
    while found[-1].replaces_id in rows:
        found.append(rows[found[-1].replaces_id])
    return found


def days_late(step: Step) -> int:
    """Return by how many days a step was written late; 0 where within a day."""
    late_s = (step.recorded_at - step.occurred_at).total_seconds()
    return round(late_s / 86_400) if late_s > LATE_S else 0


def proof_of(visit: Visit, atmosphere_pa: float) -> Proof | None:
    """Return the proof of the recovery; None where there was none, or while its last leg is not the last one."""
    found = ending_of(visit, atmosphere_pa) if has_ended(visit) else None
    if found is None:
        return None
    ending, assumed = found
    charges = charges_before(visit)
    should, came = expected(visit, charges), recovered(visit)
    facts = Recovery(
        **{one.name: getattr(ending, one.name) for one in fields(ending)},
        expected_g=should.grams,
        u_expected_g=should.u_g,
        recovered_g=came.grams,
        u_recovered_g=came.u_g,
        days_since_charge=_days(charges[0], visit.opened_at) if charges else None,
        leak_excluded_g_per_year=_leak_excluded(visit, atmosphere_pa),
        evidence=evidence_of(visit, atmosphere_pa),
    )
    return Proof(facts, recovery.prove(facts), should.words, assumed)


def _leak_excluded(visit: Visit, atmosphere_pa: float) -> float | None:
    """The smallest leak that a pressure hold of this visit, before anything was repaired, says there cannot be."""
    mended = [step.occurred_at for kind in ("repair", "part in") for step in living(visit, kind)]
    for step in living(visit, "pressure hold"):
        if mended and step.occurred_at >= min(mended):
            continue
        try:
            held = hold_of(step, atmosphere_pa)
            answer = hold.judge(replace(held, refrigerant=at_arrival(visit).refrigerant))  # the gas that is short
        except CANNOT:
            continue
        if answer.verdict == "no-leak-larger":
            return answer.numbers.hole.g_per_year(answer.numbers.smallest.high)
    return None


def arrived_empty_refused(visit: Visit, pressure_data: Data, atmosphere_pa: float) -> str:
    """Return why a standing pressure speaks against "arrived empty"; empty where it does not."""
    step = Step(visit=visit, kind="standing pressure", data=dict(pressure_data))
    try:
        answer = standing_read(step, atmosphere_pa)
    except CANNOT:
        pressure_pa = si_of(pressure_data, "pressure")
        if pressure_pa is None or pressure_pa <= air_pa(pressure_data, atmosphere_pa) + 5_000:
            return ""
        return "It stands above the atmosphere, so it is not empty. Recover what is inside."
    return answer.sentence if answer.recovery_owed else ""


def left_mg(visit: Visit, held_mg: int) -> int:
    """Return what recovery left of what the book has in the vehicle: what was charged after the last leg is not it."""
    done = legs(visit)
    if not done:
        return held_mg
    since = [step for step in living(visit, "charge") if step.occurred_at > done[-1].occurred_at]
    return max(0, held_mg - sum(int(one.mass_mg) for one in lines_of(since, "charge")))


def remainder_of(visit: Visit, held_mg: int, proof: Proof | None, atmosphere_pa: float) -> Remainder | None:
    """Return how what the book still has in the vehicle is to be split; None where nothing bounds the residue."""
    rest = proof.answer.rest if proof is not None else rest_of(visit, atmosphere_pa)
    bound_g = rest.at_most_g if rest is not None else _bound_by_standing(visit, atmosphere_pa)
    if bound_g is None or held_mg <= 0:
        return None
    return evidence.split_remainder(
        left_g=held_mg / 1000,
        residue_bound_g=bound_g,
        evidence_letter=evidence_of(visit, atmosphere_pa).letter,
    )


def _bound_by_standing(visit: Visit, atmosphere_pa: float) -> float | None:
    """Of a vehicle that arrived with nothing above the atmosphere, what vapour and oil can hold."""
    standing = evidence_of(visit, atmosphere_pa).standing
    if legs(visit) or standing is None or standing.verdict != "empty":
        return None
    return standing.at_most_g


def loss_since_charge(visit: Visit, residue: Amount) -> BetweenVisitsAnswer | None:
    """Return what the vehicle lost since this workshop charged it; None where it was never charged here."""
    charges = charges_before(visit)
    if not charges or not legs(visit) or _days(charges[0], visit.opened_at) <= 0:
        return None
    known, came = known_charge(visit, charges), recovered(visit)
    return leakrate.between_visits(
        leakrate.BetweenVisits(
            charged_g=known.grams if known else charges[0].mass_mg / 1000,
            u_charged_g=known.u_g if known else 0.0,
            recovered_g=came.grams,
            u_recovered_g=came.u_g,
            residue_g=residue.grams,
            u_residue_g=residue.u_g,
            days=_days(charges[0], visit.opened_at),
            known_content=known is not None,
            evaporators=visit.vehicle.evaporators,
        )
    )
