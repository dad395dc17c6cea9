"""One visit for the owner of the car, in plain words: what was found, taken out, put in and measured.

Nothing of other visits, of people, of cylinders by number, of money. What the book does not know is said.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import date

from django.utils.text import capfirst

from compliance.papers.afterwards import sent_since
from compliance.papers.ofvisit import Leg, OfVisit, of_visit
from compliance.papers.visits import UNDER_PRESSURE
from compliance.readers import plainly
from inventory.causes import CYLINDER
from inventory.gases import catalogue
from inventory.gases.catalogue import MIXED
from inventory.gases.cautions import CAUTIONS
from inventory.measure.own import Units
from inventory.measure.spoken import in_own_units
from inventory.models import Consignment, Movement
from inventory.shelf.queries import content_of
from shop.bench.answers import at_most
from shop.models import Step, Visit, Workshop
from shop.visits.gas import at_arrival, living
from shop.visits.kinds import BY_NAME
from shop.visits.log import open_points
from shop.visits.steps import si_of, text_of

GRADES = {
    "virgin": "never used before",
    "recycled": "used before, cleaned in a workshop",
    "reclaimed": "used before, reprocessed to the standard of new gas",
    "recovered": "used before, not cleaned",
    "suspect": "not known to be pure",
}
LOST = {
    "lost-on-the-road": "Lost before the car came here",
    "vehicle-shortfall": "Missing, and nobody knows where it went",
    "evacuated-residue": "Pumped out to the air with the last of it",
    "lost-in-our-hands": "Lost to the air during the work",
    "purge": "Let out of a hose or cylinder to the air",
}
FOR_WHAT = {
    "reclaim": "to be reclaimed",
    "destruction": "to be destroyed",
    "return to supplier": "back to the supplier",
    "sister workshop": "to a workshop of the same firm",
}
CAME = {
    "runs": "running",
    "warm": "blowing warm air",
    "open to air": "open to the air",
    "hose off": "with a hose off",
    "accident": "after an accident",
    "unknown": "in a state that nobody knew",
}
MEASURED = {
    "leak search": ("Search for leaks", "The joints were looked at one by one."),
    "pressure hold": ("Held under pressure", "Filled with gas and watched: a pressure that falls shows a leak."),
    "pulling vacuum": ("Pumped out", "A pump took out air and moisture, which do harm inside."),
    "vacuum hold": ("Held empty", "Pumped out and watched: a pressure that rises shows a leak or moisture."),
    "after-search": ("Search for leaks with the refrigerant in", "The joints were looked at again."),
    "running test": ("Running test", "Measured while the air conditioning ran."),
}
SEES_LEAKS = ("leak search", "pressure hold", "vacuum hold", "after-search")
HEAD = "No leak larger than"  # how the sentence of a hold begins; its figures follow a colon
WORK = ("part out", "part in", "repair", "flush", "oil balance", "conversion done")
CHOICES = {
    "metric": Units(days="dmy"),
    "us": Units(mass="lb oz", pressure="psi", vacuum="micron", temperature="F", volume="fl oz", days="mdy"),
}
NO_TEST = "No test for leaks is in the book, so nothing here shows that the system holds its gas."
LIMIT = (
    "A test sees leaks only down to its limit, which it names. A smaller leak can be there and not have been seen; "
    "where the limit is more than the system holds, the test shows only that it does not leak fast."
)
CERTIFIED = (
    "Have it opened, emptied and filled only by people who are certified for it. "
    "Refrigerant is never let out to the air, and no gas is topped up by guess."
)
ONE_GAS = (
    "Filled with another gas it is spoilt, and can become dangerous. Leave the label in the engine bay where it is."
)


@dataclass(frozen=True)
class Test:
    """One thing that was measured: what it is, what it came to, its figures, and what a drawing of it is made from."""

    what: str
    why: str
    says: str
    figures: tuple[str, ...]
    picture: object = None


@dataclass(frozen=True)
class CarView:
    """A visit as its owner reads it; masses in milligrams, everything else in words."""

    vehicle: str
    began: date
    ended: date | None
    carries: str
    in_short: tuple[tuple[str, str], ...]
    bars: tuple[tuple[str, int], ...]
    found: tuple[tuple[str, str], ...]
    taken_out: tuple[tuple[str, str], ...]
    put_in: tuple[tuple[str, str], ...]
    work: tuple[tuple[str, str], ...]
    tests: tuple[Test, ...]
    limit: str
    not_known: tuple[str, ...]
    cautions: tuple[str, ...]


def car_view(workshop: Workshop, about: str, units: Units) -> CarView:
    """Return the visit that `about` names, as its owner reads it in these units; raises `NothingToIssue`."""
    one = of_visit(workshop, about, units)
    visit, tests = one.visit, tuple(_tests(one))
    points = open_points(visit, units)
    return CarView(
        vehicle=", ".join(filter(None, (visit.vehicle.registration, visit.vehicle.make_model))),
        began=one.day(visit.opened_at),
        ended=one.day(visit.closed_at) if visit.state == Visit.CLOSED and visit.closed_at else None,
        carries=_carries(one),
        in_short=_in_short(one),
        bars=_bars(one),
        found=tuple(_found(one)),
        taken_out=tuple(_taken_out(one)),
        put_in=tuple(_put_in(one)),
        work=tuple(_work(one)),
        tests=tests,
        limit=LIMIT if any(living(visit, kind) for kind in SEES_LEAKS) else NO_TEST,
        not_known=tuple(capfirst(point.words) for point in points),
        cautions=tuple(_cautions(one)),
    )


def _gas_now(one: OfVisit) -> str:
    """Return the refrigerant that was in the car when this visit was over, as far as the visit says; else empty."""
    if one.into:
        return one.into[-1].movement.refrigerant
    return "" if one.out else at_arrival(one.visit).refrigerant


def _carries(one: OfVisit) -> str:
    code = _named(_gas_now(one))
    if one.into:
        return code
    if one.out:
        return "nothing was filled in after it was emptied"
    return f"{code} by its record: nothing was taken out or put in" if code else "not known"


def _named(code: str) -> str:
    """Return a refrigerant as its owner is told of it."""
    return "a mixture of gases" if code == MIXED else code


def _in_short(one: OfVisit) -> tuple[tuple[str, str], ...]:
    rows = (("Taken out", one.out), ("Put in", one.into))
    return tuple((words, _masses(one, legs) if legs else "nothing") for words, legs in rows)


def _masses(one: OfVisit, legs: Sequence[Leg]) -> str:
    codes = dict.fromkeys(leg.movement.refrigerant for leg in legs)
    parts = (
        one.amount([leg for leg in legs if leg.movement.refrigerant == code]) + f", of {_named(code)}" for code in codes
    )
    return "; ".join(parts)


def _bars(one: OfVisit) -> tuple[tuple[str, int], ...]:
    """Return the masses that are drawn side by side: by the label, taken out, put in."""
    label = one.last("label read")
    mass_kg = si_of(label.data, "mass") if label else None
    rows = []
    if label and mass_kg:
        rows.append((f"By the label, {text_of(label.data, 'refrigerant')}".rstrip(", "), round(float(mass_kg) * 1e6)))
    for words, legs in (("Taken out", one.out), ("Put in", one.into)):
        for code in dict.fromkeys(leg.movement.refrigerant for leg in legs):
            mass_mg = sum(leg.mass_mg for leg in legs if leg.movement.refrigerant == code)
            rows.append((f"{words}, {_named(code)}", mass_mg))
    return tuple(rows) if len(rows) > 1 else ()


def _found(one: OfVisit) -> Iterator[tuple[str, str]]:
    arrived, label, ports = one.last("received"), one.last("label read"), one.last("ports seen")
    if arrived and (state := text_of(arrived.data, "state")):
        yield "It came", CAME.get(state, state)
    if label:
        yield "Its label", one.line(label)
    if ports:
        yield "Its ports", one.line(ports)
    if stood := one.last("standing pressure"):
        yield "Pressure at rest", _both(one, stood)
    if identified := one.last("identified"):
        yield "Which gas it was", one.line(identified)


def _taken_out(one: OfVisit) -> Iterator[tuple[str, str]]:
    for leg in one.out:
        gas = leg.movement
        where = "a cylinder of the workshop" if gas.target.kind == CYLINDER else "the workshop's machine"
        came = f"into {where}, as {gas.grade} gas: {GRADES[gas.grade]}"
        yield f"{one.amount([leg])}, of {_named(gas.refrigerant)}", f"{came}; {_whereabouts(one, leg)}"
    for each in one.beside:
        doubt = one.give_or_take(each.u_mg) if each.u_mg else "not known"
        yield LOST[each.cause], f"{one.mass(int(each.mass_mg))} {_named(each.refrigerant)}, give or take {doubt}"
    rest = one.shared.rest
    if one.out and rest is not None and rest.at_most_g is not None:
        most = in_own_units(f"at most {at_most(rest.at_most_g)}", one.wording.units)
        yield "Left inside after that", f"{most}, by the pressure it stood at"


def _whereabouts(one: OfVisit, leg: Leg) -> str:
    """Return where what came out is by the book: there still, or gone since; no partner and no cylinder is named."""
    held = leg.cylinder.kind != CYLINDER or content_of(leg.cylinder) is not None
    ways = dict.fromkeys(f"{_for_what(each)} on {one.wording.day(each.entry.occurred_at)}" for each in sent_since(leg))
    if ways:
        rest = "; there is gas in it still or again" if held else ""
        return f"what it held went away from there {', '.join(ways)}{rest}"
    return "kept there" if held else "moved from there since, within the workshop"


def _for_what(movement: Movement) -> str:
    paper: Consignment | None = getattr(movement.entry, "consignment", None)
    return FOR_WHAT.get(paper.purpose if paper else "", "to another owner")


def _put_in(one: OfVisit) -> Iterator[tuple[str, str]]:
    for leg in one.into:
        yield (
            f"{one.amount([leg])}, of {leg.movement.refrigerant}",
            f"{leg.movement.grade}: {GRADES[leg.movement.grade]}",
        )
    if one.into and (charged := one.last("charge")) and (said := one.says(charged)):
        yield "Against what was aimed at", said


def _work(one: OfVisit) -> Iterator[tuple[str, str]]:
    for kind in WORK:
        for step in living(one.visit, kind):
            yield BY_NAME[kind].done, one.line(step)


def _tests(one: OfVisit) -> Iterator[Test]:
    steps = [step for kind in MEASURED for step in living(one.visit, kind)]
    for step in sorted(steps, key=lambda each: (each.occurred_at, each.pk)):
        told, (what, why) = one.told.get(step.pk), MEASURED[step.kind]
        drawn = told.picture if told and step.kind != "running test" else None  # its diagram is for who repairs it
        sentence = told.sentence if told else ""
        plain = plainly.told(told.answer if told else None, _full_g(one), one.wording.units)
        says, figures = (plain, sentence) if plain else _parted(sentence)
        yield Test(what, why, says, tuple(filter(None, (f"{capfirst(one.line(step))}.", figures))), drawn)


def _full_g(one: OfVisit) -> float | None:
    """Return what the system holds when full, by its label, else by what was put in; None where neither is known."""
    label = one.last("label read")
    mass_kg = si_of(label.data, "mass") if label else None
    return float(mass_kg) * 1000 if mass_kg else sum(leg.mass_mg for leg in one.into) / 1000 or None


def _parted(sentence: str) -> tuple[str, str]:
    """Return what a test came to, and the figures behind it."""
    says, colon, figures = sentence.partition(": ")
    return (f"{says}.", capfirst(figures)) if colon and says.startswith(HEAD) else (sentence, "")


def _both(one: OfVisit, step: Step) -> str:
    """Return what it came to in plain words, and what was read in the step."""
    told = one.told.get(step.pk)
    plain = plainly.told(told.answer if told else None, None, one.wording.units) or one.says(step)
    return f"{plain} It was read: {one.line(step)}.".strip()


def _cautions(one: OfVisit) -> Iterator[str]:
    code = _gas_now(one)
    known = code not in ("", MIXED)
    if known and one.into:
        yield f"Since this visit your car carries {code}. {ONE_GAS}"
    yield f"{UNDER_PRESSURE} {CERTIFIED}"
    if known and catalogue.refrigerant(code).flammable:
        yield f"{code}: {CAUTIONS['flammable'].sentence}"
    if code == "R-744":
        yield CAUTIONS["r744"].sentence


def units_for(workshop: Workshop, asked: str) -> Units:
    """Return the units that a viewer asked for, "metric" or "us"; else the workshop's."""
    own = workshop.units
    return replace(CHOICES[asked], atmosphere_pa=own.atmosphere_pa) if asked in CHOICES else own
