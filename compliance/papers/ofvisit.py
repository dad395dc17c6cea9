"""What the papers of one visit share: the visit with its verdicts, its lines of the book, masses and people in words.

The lines are found in the book by the visit's context, so that a line written anew after a correction counts and a
reversed one does not, whatever the log says of its step.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any
from zoneinfo import ZoneInfo

from compliance.papers.paper import NothingToIssue, Table
from compliance.papers.wording import Wording, number_in
from inventory.causes import BASES, CYLINDER, PROCESS
from inventory.measure.displays import in_book
from inventory.measure.figures import figure, mass_number, show_mass
from inventory.measure.own import Units
from inventory.measure.spoken import in_own_units
from inventory.models import Account, Movement, Weighing
from inventory.output.days import NOT_ENTERED
from shop.bench.answers import at_most
from shop.models import Certification, Step, User, Visit, Workshop
from shop.people.certificates import held_on
from shop.visits import endings, proofs
from shop.visits.gas import at_arrival, living
from shop.visits.kinds import BY_NAME
from shop.visits.lines import Line
from shop.visits.log import BESIDE, head_of, spoken_in, with_log
from shop.visits.verdicts import Around, Told, around, told_of

OUT = endings.OUT
NO_NUMBER = "not known"
GIVE_OR_TAKE = "Give or take is twice the standard uncertainty of the readings."
HANDS_ON = (
    "recovery",
    "remainder settled",
    "circuit opened",
    "part in",
    "flush",
    "high voltage isolated",
    "pressure hold",
    "leak search",
    "repair",
    "pulling vacuum",
    "vacuum hold",
    "charge",
    "after-search",
    "conversion done",
)


@dataclass(frozen=True)
class Leg:
    """Gas that came out of the vehicle or went into it by one line, with the readings that stand behind it."""

    movement: Movement
    step: Step | None
    before: Weighing | None = None
    after: Weighing | None = None

    @property
    def seq(self) -> int:
        """The number of its line of the book."""
        return int(self.movement.entry.seq)

    @property
    def mass_mg(self) -> int:
        """Its mass."""
        return int(self.movement.mass_mg)

    @property
    def cylinder(self) -> Account:
        """The account at the other end: a cylinder, as a rule."""
        return self.movement.target if self.movement.cause in OUT else self.movement.source

    @property
    def lines(self) -> tuple[int, ...]:
        """The lines it rests on: its own, and that of a reading before which has a line of its own."""
        return (self.seq, *((int(self.before.entry.seq),) if self.before else ()))

    def figures(self) -> dict[str, Any]:
        """Its figures for scripts; masses in milligrams."""
        one = self.movement
        return {
            "line": self.seq,
            "refrigerant": one.refrigerant,
            "grade": one.grade,
            "mass_mg": self.mass_mg,
            "give_or_take_mg": round(2 * one.u_mg),
            "basis": one.basis,
            "cylinder": str(self.cylinder),
            "before_mg": int(self.before.gross_mg) if self.before else None,
            "after_mg": int(self.after.gross_mg) if self.after else None,
        }


@dataclass(frozen=True)
class OfVisit:
    """A visit with what its steps say, and what its standing lines moved."""

    workshop: Workshop
    visit: Visit
    shared: Around
    told: dict[int, Told]
    out: tuple[Leg, ...]
    into: tuple[Leg, ...]
    beside: tuple[Movement, ...]
    wording: Wording

    @property
    def began(self) -> str:
        """When the vehicle came."""
        return self.when(self.visit.opened_at)

    @property
    def of_vehicle(self) -> tuple[tuple[str, str], ...]:
        """What tells the vehicle from others."""
        vehicle = self.visit.vehicle
        vin = (("Identification number (VIN)", vehicle.vin),) if vehicle.vin else ()
        return (("Plate", vehicle.registration), *vin, ("Make and model", vehicle.make_model or NOT_ENTERED))

    def when(self, at: datetime) -> str:
        """Return a moment to the minute in the workshop's zone."""
        return self.wording.when(at)

    def day(self, at: datetime) -> date:
        """Return the day of a moment in the workshop's zone."""
        return at.astimezone(self.wording.zone).date()

    def last(self, kind: str) -> Step | None:
        """Return the last standing step of a kind."""
        found = living(self.visit, kind)
        return found[-1] if found else None

    def says(self, step: Step | None) -> str:
        """Return the verdict of a step as a sentence; empty where it has none."""
        told = self.told.get(step.pk) if step else None
        return told.sentence if told else ""

    def line(self, step: Step) -> str:
        """Return what a step came to, in the words of the log, without what the line begins with there."""
        told, kind = self.told.get(step.pk), BY_NAME[step.kind]
        line = head_of(step, kind, self.wording.units, told=told)
        return line.removeprefix(kind.done).lstrip(":, ")

    def fact(self, step: Step, name: str) -> str:
        """Return one field of a step as it was read, in the paper's units beside."""
        return Line(BY_NAME[step.kind], step.data, self.wording.units).fact(name)

    def last_line(self, kind: str) -> str:
        """Return what the last standing step of a kind came to, or that there is none."""
        step = self.last(kind)
        return self.line(step) if step else NOT_ENTERED

    def mass(self, mass_mg: int) -> str:
        """Return a mass as these papers print it: grams, or pounds with the grams in brackets."""
        grams = grams_said(mass_mg)
        units = self.wording.units
        if not units.in_pounds:
            return grams
        own = in_book(mass_mg, units.mass) if units.mass == "lb" else units.small_mass_said(mass_mg)
        return f"{own} ({grams})"

    def mass_at_most(self, mass_g: float) -> str:
        """Return a bound from above with its words, rounded up so that it stays true."""
        grams = at_most(mass_g)
        if not self.wording.units.in_pounds:
            return f"at most {grams}"
        return f"{in_own_units(f'at most {grams}', self.wording.units)} ({grams})"

    def give_or_take(self, u_mg: float) -> str:
        """Return twice a standard uncertainty, or that none is known."""
        return self.mass(round(2 * u_mg)) if u_mg else NO_NUMBER

    def amount(self, legs: Sequence[Leg]) -> str:
        """Return what legs moved together: "868 g, give or take 4 g"."""
        doubt = self.give_or_take(u_of(legs))
        end = "give or take not known" if doubt == NO_NUMBER else f"give or take {doubt}"
        return f"{self.mass(sum(leg.mass_mg for leg in legs))}, {end}"

    def gas_said(self, legs: Sequence[Leg]) -> str:
        """Return what legs moved, by refrigerant and grade: "784 g, give or take 2 g, of R-134a virgin"."""
        kinds = dict.fromkeys((leg.movement.refrigerant, leg.movement.grade) for leg in legs)
        parts = []
        for code, grade in kinds:
            same = [leg for leg in legs if (leg.movement.refrigerant, leg.movement.grade) == (code, grade)]
            parts.append(f"{self.amount(same)}, of {code} {grade}")
        return "; ".join(parts)


def grams_said(mass_mg: int) -> str:
    """Return whole grams, thousands parted as in the sentences of the log; below ten grams with one decimal."""
    decimals = 0 if abs(mass_mg) >= 9_950 or mass_mg % 1000 == 0 else 1
    return f"{figure(mass_number(mass_mg, 'g', decimals), decimals)} g"


def earlier_lines(one: OfVisit) -> set[int]:
    """Return the lines of the earlier charges by which a recovery's expectation and the loss since are reckoned."""
    found: set[int] = set()
    if not one.out:
        return found
    held_mg, summed_mg = sum(at_arrival(one.visit).held_mg.values()), 0
    for charge in proofs.charges_before(one.visit):
        found.add(int(charge.entry.seq))
        summed_mg += int(charge.mass_mg)
        if summed_mg >= held_mg:
            break
    return found


def doubt_of(legs: Sequence[Leg]) -> int | None:
    """Return twice the standard uncertainty of what legs moved together, in milligrams; None where none is known."""
    return round(2 * u_of(legs)) or None


def u_of(legs: Iterable[Leg]) -> float:
    """Return the standard uncertainty (mg) of what legs moved together; the span error of a scale adds linearly."""
    return proofs.total_u(leg.movement for leg in legs).total_g * 1000


def of_visit(workshop: Workshop, about: str, units: Units | None = None) -> OfVisit:
    """Return the visit that `about` names (``visit:12``) with its verdicts and lines; raises `NothingToIssue`.

    It speaks in the units of the workshop's papers unless told others.
    """
    number = number_in(about, "visit")
    visits = with_log(Visit.objects.filter(workshop=workshop)).select_related("workshop__book")
    visit = visits.filter(number=number).first()
    if visit is None:
        raise NothingToIssue(f"There is no visit {number} in this workshop.")
    units = units or workshop.units
    shared = around(visit, units)
    moved = _movements(visit)
    return OfVisit(
        workshop,
        visit,
        shared,
        {key: spoken_in(told, units) for key, told in told_of(shared).items()},
        out=tuple(_legs(visit, moved, OUT)),
        into=tuple(_legs(visit, moved, ("charge",))),
        beside=tuple(one for one in moved if one.cause in BESIDE and one.cause != "found-in-vehicle"),
        wording=Wording(units, ZoneInfo(workshop.zone)),
    )


def _movements(visit: Visit) -> list[Movement]:
    """Return the standing movements of a visit in the order of their lines."""
    rows = Movement.objects.standing().filter(entry__book=visit.workshop.book, entry__context=visit.context)
    return list(rows.select_related("entry", "source", "target", "scale").order_by("entry__occurred_at", "pk"))


def _legs(visit: Visit, moved: Sequence[Movement], causes: Sequence[str]) -> list[Leg]:
    steps = {step.entry_id: step for step in visit.steps.all() if step.entry_id}  # the newest entered anew comes last
    return [
        Leg(one, steps.get(one.entry_id), *_readings(one))
        for one in moved
        if one.cause in causes and one.target.kind != PROCESS
    ]


def _readings(movement: Movement) -> tuple[Weighing | None, Weighing | None]:
    """Return the two readings of the cylinder that a leg rests on; none of a line that no reading is kept with."""
    account = movement.target if movement.target.kind == CYLINDER else movement.source
    own = account.weighings.select_related("entry", "scale").order_by("pk")
    after = own.filter(entry=movement.entry, role=Weighing.AFTER).last()
    if after is None:
        return None, None
    return own.standing().filter(pk__lt=after.pk, role=Weighing.BEFORE).last(), after


def gross_said(reading: Weighing | None, leg: Leg, units: Units) -> str:
    """Return a reading as the scale shows it, or what stands in its place."""
    if reading is not None:
        return reading_said(reading, units)
    return "written anew" if leg.movement.basis == "pair" else BASES[leg.movement.basis]


def reading_said(reading: Weighing, units: Units) -> str:
    """Return a reading as its scale shows it, in the paper's units where the scale shows others."""
    step = reading.scale.step
    if units.in_pounds and not step.is_metric:
        return step.show(int(reading.gross_mg))
    if units.in_pounds:
        return in_book(int(reading.gross_mg), units.mass)
    return show_mass(int(reading.gross_mg), step_mg=min(1000, int(reading.step_mg)))


def people_table(one: OfVisit, kinds: Sequence[str] = HANDS_ON) -> Table:
    """Return who did what and who answered for it, with what each held on that day."""
    deeds: dict[tuple[str, str, str], list[str]] = {}
    for step, did in _deeds(one, kinds):
        days, words = one.day(step.occurred_at), BY_NAME[step.kind].words
        for person, part in did:
            row = deeds.setdefault((str(person), part, certificates_on(person, days)), [])
            row.append(f"{words}, {one.wording.on(days)}")
    rows = tuple((name, part, _by_day(words), held) for (name, part, held), words in deeds.items())
    return Table("Who did it, who answers for it", ("Person", "Part", "Of", "Certificate on that day"), rows)


def _deeds(one: OfVisit, kinds: Sequence[str]) -> list[tuple[Step, tuple[tuple[User, str], ...]]]:
    found: list[tuple[Step, tuple[tuple[User, str], ...]]] = []
    standing = [step for kind in kinds for step in living(one.visit, kind)]
    for step in sorted(standing, key=lambda each: (each.occurred_at, each.pk)):
        if step.answers is None or step.answers == step.doer:
            found.append((step, ((step.doer, "did it and answers for it"),)))
        else:
            found.append((step, ((step.doer, "did it"), (step.answers, "answers for it"))))
    return found


def _by_day(words: Sequence[str]) -> str:
    """Return "recovery, charge (2025-03-03)", each thing once."""
    days: dict[str, list[str]] = {}
    for text in dict.fromkeys(words):
        what, _, when = text.rpartition(", ")
        days.setdefault(when, []).append(what)
    return "; ".join(f"{', '.join(what)} ({when})" for when, what in days.items())


def certificates_on(person: User, day: date) -> str:
    """Return the certificates that a person held on a day: scheme and number; what is not known is said."""
    rows = list(Certification.objects.filter(user=person).order_by("pk"))
    held = [one for one in rows if held_on(one, day)]
    if held:
        return "; ".join(f"{one.scheme}, no. {one.number}" for one in held)
    endless = [one for one in rows if one.expires_on is None and (one.issued_on is None or one.issued_on <= day)]
    if endless:
        return "; ".join(f"{one.scheme}, no. {one.number}, its end not entered" for one in endless)
    return "none on that day"
