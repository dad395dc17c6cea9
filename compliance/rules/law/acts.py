"""What was done to a vehicle's gas, by whom and under which certificate. Pure."""

import re
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from datetime import date

from compliance.rules.facts import Certificate, Deed, Moved, Person, Vehicle, Visit, Workshop
from compliance.rules.law.gases import UNTREATED
from compliance.rules.rule import Judgement, Record
from compliance.rules.seen import grams, moves, of_visit
from shop.visits.steps import HELD_BACK_AS, text_of

GAS_ACTS = ("recovery", "charge")
LIGHT = ("car", "van")  # nearest to M1 cars and N1 class I goods vehicles that the record knows
_ACTS = {"circuit opened": "opening", "part out": "taking out a part", "part in": "fitting a part"}
_DENIED = ("no", "none", "nothing", "not fitted", "not there", "not done", "missing", "old", "original", "as before")


def denied(text: str) -> bool:
    """Whether an answer says that a thing is not there or was left as it was."""
    return text.strip().lower().rstrip(".") in _DENIED


def numbers_in(text: str) -> bool:
    """Whether a text holds a figure, such as an amount."""
    return re.search(r"\d", text) is not None


def inside(visit: Visit) -> str:
    """Return what was in the vehicle on arrival: as the book, the label or the vehicle's record has it, or empty."""
    for deed in visit.of("received"):
        kept = deed.data.get(HELD_BACK_AS) or {}
        if kept.get("refrigerant"):
            return str(kept["refrigerant"])
    labelled = [text_of(deed.data, "refrigerant") for deed in visit.of("label read")]
    if any(labelled):
        return next(code for code in reversed(labelled) if code)
    vehicle = visit.vehicle
    return (vehicle.original_refrigerant if visit.of("conversion done") else "") or vehicle.refrigerant


@dataclass(frozen=True)
class Retrofit:
    """A visit at which a system was turned from one refrigerant to another; what is not there yet is None."""

    visit: Visit
    old: str
    new: str
    done: Deed | None
    charged: Deed | None
    day: date  # of the charge; of the conversion where nothing is charged yet

    @property
    def record(self) -> Record:
        """It as what is judged."""
        return replace(of_visit(self.visit, self.charged or self.done), day=self.day)

    def said(self, name: str) -> str:
        """Return an answer of the conversion, empty where it has none."""
        return text_of(self.done.data, name).strip() if self.done else ""


def retrofits(facts: Workshop) -> Iterator[Retrofit]:
    """Yield the visits at which another refrigerant than that on arrival was charged or entered."""
    for visit in facts.visits:
        done = visit.of("conversion done")
        old, charges = inside(visit), list(moves(visit, "charge"))
        to = text_of(done[-1].data, "to") if done else ""
        new = to or next((one.refrigerant for _, one in charges if one.refrigerant != old), "")
        if not (old and new) or new == old:
            continue
        charged = next((deed for deed, one in charges if one.refrigerant == new), None)
        day = charged.day if charged else done[-1].day
        yield Retrofit(visit, old, new, done[-1] if done else None, charged, day)


def latest_visits(facts: Workshop) -> Iterator[tuple[Vehicle, list[Visit]]]:
    """Yield each vehicle with its visits, by day."""
    by_vehicle: dict[int, list[Visit]] = {}
    for visit in sorted(facts.visits, key=lambda one: one.opened_at):
        by_vehicle.setdefault(visit.vehicle.number, []).append(visit)
    for visits in by_vehicle.values():
        yield visits[-1].vehicle, visits


@dataclass(frozen=True)
class Work:
    """What one person did at one visit on one day, and who answered for it."""

    visit: Visit
    day: date
    doer: str
    answers: str
    deeds: tuple[Deed, ...]

    @property
    def words(self) -> str:
        """The acts and their day, to begin a sentence: "Recovery and charge on 4 March 2026"."""
        kinds = list(dict.fromkeys(_ACTS.get(deed.kind, deed.kind) for deed in self.deeds))
        listed = " and ".join(filter(None, (", ".join(kinds[:-1]), kinds[-1])))
        return f"{listed.capitalize()} on {self.day}"

    @property
    def record(self) -> Record:
        """This work as what is judged."""
        return of_visit(
            self.visit, self.deeds[0], " ".join(filter(None, (self.day.isoformat(), self.doer, self.answers)))
        )


def works(facts: Workshop, wanted: Callable[[Visit, Deed], bool]) -> Iterator[Work]:
    """Yield the wanted deeds, put together by visit, day, doer and who answers, in the order of the log."""
    for visit in facts.visits:
        groups: dict[tuple[date, str, str], list[Deed]] = {}
        for deed in visit.deeds:
            if wanted(visit, deed):
                groups.setdefault((deed.day, deed.doer, deed.answers), []).append(deed)
        for (day, doer, answers), deeds in groups.items():
            yield Work(visit, day, doer, answers, tuple(deeds))


def gases(visit: Visit, deed: Deed) -> tuple[str, ...]:
    """Return the refrigerants that a deed moved; what was in the vehicle where it moved none."""
    return tuple(dict.fromkeys(one.refrigerant for one in deed.moved)) or (inside(visit),)


def schemes(person: Person, day: date) -> str:
    """Return the names of the certificates that a person held on a day, with class and scope."""
    return "; ".join(_named(one) for one in person.certificates if one.holds_on(day))


def _named(one: Certificate) -> str:
    told = one.category.lower() in f"{one.scheme} {one.scope}".lower()
    return " ".join(filter(None, (one.scheme, "" if told else one.category, one.scope)))


def classes(person: Person, day: date) -> list[str]:
    """Return what each certificate that a person held on a day says of its class: the class itself, else its words."""
    held = [one for one in person.certificates if one.holds_on(day)]
    return [one.category or f"{one.scheme} {one.scope}" for one in held]


def gas_handlers(facts: Workshop) -> Iterator[tuple[Person, date]]:
    """Yield each active person who moved gas, with the last day of it."""
    last: dict[str, date] = {}
    for work in works(facts, lambda visit, deed: deed.kind in GAS_ACTS):
        last[work.doer] = max(work.day, last.get(work.doer, work.day))
    for handle, day in last.items():
        person = facts.people.get(handle)
        if person is not None and person.active:
            yield person, day


@dataclass(frozen=True)
class Charged:
    """What was charged at one visit of one refrigerant and grade, all legs together."""

    visit: Visit
    refrigerant: str
    grade: str
    legs: tuple[tuple[Deed, Moved], ...]

    @property
    def words(self) -> str:
        """Mass, grade and refrigerant: "545 g of recycled R-134a"."""
        return f"{grams(sum(one.mass_mg for _, one in self.legs))} of {self.grade} {self.refrigerant}"

    @property
    def record(self) -> Record:
        """This charge as what is judged."""
        return of_visit(self.visit, self.legs[0][0], f"{self.refrigerant} {self.grade}")


def charged(facts: Workshop) -> Iterator[Charged]:
    """Yield what was charged at each visit, by refrigerant and grade."""
    for visit in facts.visits:
        groups: dict[tuple[str, str], list[tuple[Deed, Moved]]] = {}
        for deed, one in moves(visit, "charge"):
            groups.setdefault((one.refrigerant, one.grade), []).append((deed, one))
        for (code, grade), legs in groups.items():
            yield Charged(visit, code, grade, tuple(legs))


def recycled_first(facts: Workshop, covered: Callable[[str], bool], way_out: str) -> Iterator[Judgement]:
    """Judge used gas that was charged, by its grade; `covered` takes the refrigerant."""
    for one in charged(facts):
        if one.grade == "virgin" or not covered(one.refrigerant):
            continue
        if one.grade in UNTREATED:
            yield one.record.breach(f"{one.words} was charged without being recycled or reclaimed first.", way_out)
        else:
            yield one.record.met(f"{one.words} was charged.")
