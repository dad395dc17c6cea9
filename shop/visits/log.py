"""A visit as its log: the steps with what they say, what was replaced, and what is still asked.

Everything here is read from rows that were fetched together, so that a list of visits costs as many queries as one.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from types import MappingProxyType
from typing import Any

from django.db.models import DateTimeField, Prefetch, QuerySet
from django.db.models.expressions import RawSQL

from inventory.causes import CAUSES
from inventory.measure.own import Units
from inventory.measure.spoken import in_own_units
from inventory.models import Movement
from inventory.shelf.listing import names_of
from shop.bench.hold import HoldAnswer
from shop.models import Step, Visit, Workshop
from shop.visits import asked, lines, proofs, steps
from shop.visits.asked import Asked, Done, VehicleFacts
from shop.visits.gas import held_in, lines_of, meant_in, reversed_by, standing
from shop.visits.kinds import BY_NAME, MASS_STEPS
from shop.visits.lines import Line
from shop.visits.questions import left_out
from shop.visits.seconds import seconds
from shop.visits.spotcheck import SPOT_CHECK, is_chosen
from shop.visits.steps import HELD_BACK_AS, StepKind
from shop.visits.verdicts import Told

BESIDE = (
    "found-in-vehicle",
    "purge",
    "evacuated-residue",
    "lost-on-the-road",
    "lost-in-our-hands",
    "vehicle-shortfall",
)
# When the first photo of a step was written. In SQL, since Django would take as long to put it together as a page does.
FIRST_PHOTO = """
    (SELECT line.recorded_at FROM shop_visit AS its_visit
    JOIN shop_workshop AS its_shop ON its_shop.id = its_visit.workshop_id
    JOIN inventory_photo AS photo ON photo.book_id = its_shop.book_id
        AND photo.context = 'visit:' || CAST(its_visit.number AS varchar) || '/step:' || CAST(shop_step.id AS varchar)
    JOIN inventory_entry AS line ON line.id = photo.entry_id
    WHERE its_visit.id = shop_step.visit_id ORDER BY line.seq LIMIT 1)
"""
JUDGED = ("standing pressure", "recovery", "pressure hold", "vacuum hold")  # what these came to is not in their line
GAS_CAUSES = ("charge", "recovery", "recovery-through-machine")


@dataclass(frozen=True)
class LogStep:
    """One step as the log shows it."""

    step: Step
    kind: StepKind
    head: str
    facts: list[tuple[str, str]] = field(default_factory=list)
    masses: list[str] = field(default_factory=list)
    told: Told | None = None
    replaced_by: Step | None = None
    reversed_by: int | None = None  # the number of the line that reversed its line

    @property
    def stands(self) -> bool:
        """Whether it counts: neither replaced nor reversed."""
        return self.replaced_by is None and self.reversed_by is None

    @property
    def brief(self) -> str:
        """What it came to in a few words, such as "accounted for"; empty where its line says that already."""
        answer = self.told.answer if self.told else None
        if self.told is None or answer is None or self.kind.name not in JUDGED:
            return ""
        found = answer.verdict if self.kind.name == "recovery" else self.told.sentence.partition(":")[0]
        return found[:1].upper() + found[1:].removesuffix(".")

    @property
    def may_be_amended(self) -> bool:
        """Whether it can be entered anew."""
        return self.stands and self.kind.name != "hand-over"

    @property
    def wants_photo(self) -> bool:
        """Whether a photo of it is asked about among its fields."""
        return any(one.name == "photo" for one in self.kind.fields)


def with_log(visits: QuerySet[Visit]) -> QuerySet[Visit]:
    """Fetch what a log needs along with visits: steps, their lines, the vehicle and what the book has in it."""
    log = Step.objects.select_related("doer", "answers", "entry__reversal", "watch").prefetch_related(
        Prefetch("entry__movements", Movement.objects.select_related("source", "target").order_by("line"))
    )
    log = log.annotate(photographed_at=RawSQL(FIRST_PHOTO, (), DateTimeField()))  # noqa: S611 # no words of anybody's
    return visits.select_related("vehicle__account", "workshop").prefetch_related(
        Prefetch("steps", log), "vehicle__account__holdings", "vehicle__account__joined__holdings"
    )


def unfinished(workshop: Workshop) -> QuerySet[Visit]:
    """Return the visits that are not handed over, newest first."""
    return with_log(Visit.objects.filter(workshop=workshop).exclude(state=Visit.CLOSED)).order_by("-number")


def open_points(visit: Visit, units: Units) -> tuple[Asked, ...]:
    """Return all that is open of a visit whose log was fetched, as papers and readers have it.

    A spot check is the workshop's own affair and stands on no paper.
    """
    return _asked_of(visit, units, frozenset({"spot-check"}))


def asked_here(visit: Visit, units: Units) -> tuple[Asked, ...]:
    """Return what is still asked of a visit whose log was fetched, without what the workshop leaves out."""
    return _asked_of(visit, units, left_out(visit.workshop.not_asked, visit.workshop.jurisdiction))


def _asked_of(visit: Visit, units: Units, not_asked: frozenset[str]) -> tuple[Asked, ...]:
    vehicle = visit.vehicle
    facts = VehicleFacts(
        refrigerant=meant_in(visit),
        electric_compressor=vehicle.electric_compressor,
        held_mg=held_in(vehicle),
        atmosphere_pa=visit.workshop.air.pressure_pa,
        second_person="spot-check" not in not_asked and _owes_check(visit) and seconds(visit).exists(),
    )
    points = asked.asked(done_of(visit), facts, not_asked)
    return tuple(replace(one, why=in_own_units(one.why, units)) for one in points)


def _owes_check(visit: Visit) -> bool:
    """Whether a visit was chosen and nobody has looked at it: few are, so that only for these who may is asked."""
    rows = standing(visit)
    chosen = any(is_chosen(step.data) for step in rows if step.kind == "hand-over")
    return chosen and not any(step.kind == SPOT_CHECK for step in rows)


def done_of(visit: Visit) -> list[Done]:
    """Return the steps of a visit as `shop.visits.asked` takes them."""
    live = set(standing(visit))
    return [
        Done(
            step.pk,
            step.kind,
            step.data,
            step in live,
            _refrigerant(step),
            proofs.photographed_at(step) is not None,
        )
        for step in visit.steps.all()
    ]


def _gas(step: Step) -> list[Movement]:
    """Return the movements that a step is about: what was charged or recovered, not what serves it."""
    return [one for one in lines_of([step], *GAS_CAUSES) if one.target.kind != "process"]


def _refrigerant(step: Step) -> str:
    gas = _gas(step)
    return gas[0].refrigerant if gas else ""


def log_of(visit: Visit, units: Units, told: Mapping[int, Told] = MappingProxyType({})) -> list[LogStep]:
    """Return the log of a visit, in the order in which the steps happened, with their verdicts where given."""
    rows = list(visit.steps.all())
    newer = {step.replaces_id: step for step in rows if step.replaces_id}
    names, was = _people_in(rows), _was(visit, rows)
    spoken = {key: spoken_in(one, units) for key, one in told.items()}
    return [
        replace(
            _as_line(step, units, newer, was=was, told=told.get(step.pk)),
            facts=facts_said(step, BY_NAME[step.kind], names, units),
            told=spoken.get(step.pk),
        )
        for step in rows
        if step.kind in BY_NAME
    ]


def record_of(visit: Visit, units: Units) -> list[LogStep]:
    """Return the charges and recoveries of a fetched visit that have a line, reversed ones too.

    A step that was entered anew for the same line is left out: the newer one says the line.
    """
    rows = list(visit.steps.all())
    newer = {step.replaces_id: step for step in rows if step.replaces_id}
    return [
        _as_line(step, units, newer)
        for step in rows
        if step.entry is not None and step.kind in MASS_STEPS
        if step.pk not in newer or newer[step.pk].entry_id != step.entry_id
    ]


def _as_line(
    step: Step, units: Units, newer: Mapping[int, Step], *, was: str = "", told: Told | None = None
) -> LogStep:
    kind = BY_NAME[step.kind]
    return LogStep(
        step=step,
        kind=kind,
        head=head_of(step, kind, units, was=was, told=told),
        masses=masses_of(step, units),
        replaced_by=newer.get(step.pk),
        reversed_by=reversed_by(step),
    )


def spoken_in(told: Told, units: Units) -> Told:
    """Return a verdict with its sentences in the units of who reads it; its answer stays as it was reckoned."""
    more = tuple(in_own_units(one, units) for one in told.more)
    return replace(told, sentence=in_own_units(told.sentence, units), more=more)


def _was(visit: Visit, rows: Sequence[Step]) -> str:
    """Return what the vehicle was for when it came, as its arrival kept it; else what its record says it was."""
    kept: Mapping[str, Any] = next((one.data[HELD_BACK_AS] for one in rows if HELD_BACK_AS in one.data), {})
    return str(kept.get("refrigerant") or visit.vehicle.original_refrigerant)


def head_of(step: Step, kind: StepKind, units: Units, *, was: str = "", told: Told | None = None) -> str:
    """Return a step's line: "Charged 0.450 kg R-134a, give or take 2 g, from C-34; target 450 g".

    `was` is what the vehicle was for on arrival; `told` the verdict of the step, where it was worked out.
    """
    answer = told.answer if told else None
    change_pa = answer.numbers.change_pa if isinstance(answer, HoldAnswer) and answer.hold.is_corrected else None
    line = Line(kind, steps.applicable(kind, step.data), units, was, change_pa)
    ends = {"recovery": lines.after_recovery, "charge": lines.aimed_at}.get(kind.name)
    if ends is None or step.entry is None:
        return lines.line_of(line)
    gas = "; ".join(_gas_said(one, units) for one in _gas(step))
    moved = f"{kind.done} {gas}" if gas else "Nothing recovered" if kind.name == "recovery" else "Nothing charged"
    return "; ".join(filter(None, (moved, ends(line))))


def _gas_said(movement: Movement, units: Units) -> str:
    mass = units.mass_said(int(movement.mass_mg))
    doubt = f", give or take {units.small_mass_said(2 * movement.u_mg)}" if movement.u_mg else ", not measured"
    charge = movement.cause == "charge"
    other = f"from {movement.source}" if charge else f"to {movement.target}"
    return f"{mass} {movement.refrigerant} {movement.grade if charge else ''}".rstrip() + f"{doubt}, {other}"


def masses_of(step: Step, units: Units) -> list[str]:
    """Return what else the step's line of the book moved, in words."""
    return [f"{units.small_mass_said(int(one.mass_mg))} {CAUSES[one.cause].words}" for one in lines_of([step], *BESIDE)]


def _people_in(rows: Sequence[Step]) -> dict[str, str]:
    """Return the names of people that the fields of steps hold, by handle; no query where there are none."""
    handles = {
        text
        for step in rows
        if step.kind in BY_NAME
        for one in BY_NAME[step.kind].fields
        if one.type == "person" and (text := steps.text_of(step.data, one.name))
    }
    return names_of(handles) if handles else {}


def facts_said(step: Step, kind: StepKind, names: Mapping[str, str], units: Units) -> list[tuple[str, str]]:
    """Return the fields of a step in words; what is still asked says so, what was optional and left out is left out."""
    data = steps.applicable(kind, step.data)
    line = Line(kind, data, units)
    photographed = proofs.photographed_at(step) is not None
    missing = {one.name for one in asked.gaps(kind, data, photographed=photographed)}
    found = []
    for one in kind.fields:
        text = line.fact(one.name)
        if one.type == "person":
            text = names.get(text, text)
        if one.type == "photo" and (text or photographed):
            found.append(
                (one.words, " and ".join(["kept here"] * photographed + [f"kept elsewhere: {text}"] * bool(text)))
            )
        elif text:
            found.append((one.words, text))
        elif one.name in missing:
            found.append((one.words, "not entered"))
    return found
