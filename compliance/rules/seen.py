"""What the record of a visit shows: small questions that several rules ask. Pure."""

from collections.abc import Iterable, Iterator
from datetime import date, timedelta

from compliance.rules.facts import Consignment, Cylinder, Deed, Difference, Line, Moved, Visit, Workshop
from compliance.rules.rule import Record
from inventory.measure.figures import show_mass
from shop.visits.steps import HELD_BACK_AS, air_pa, si_of, text_of

OPEN_ON_ARRIVAL = ("open to air", "hose off")
RECOVERIES = ("recovery", "recovery-through-machine")
OPENINGS = ("circuit opened", "part out", "flush")
HANDS_ON = ("recovery", "circuit opened", "charge")
NEEDLE_BAR = 0.05
HALF = 0.5  # a charge of less than half the label is a topping-up, not the filling of an empty system
YEAR = timedelta(days=365)
BOOK = Record("book")  # the book as a whole, as what is judged


def grams(mass_mg: float) -> str:
    """Return a mass of a vehicle or of a difference, in whole grams."""
    return show_mass(round(mass_mg), unit="g")


def kilos(mass_mg: float) -> str:
    """Return a mass of a cylinder or of what passes the gate, in kilograms."""
    return show_mass(round(mass_mg), unit="kg")


def of_visit(visit: Visit, deed: Deed | None = None, part: str = "") -> Record:
    """Return a visit as what is judged; with a deed of it, by its day, line and doer."""
    about = f"visit:{visit.number}"
    return Record(about, deed.day, deed.line, deed.doer, part) if deed else Record(about, part=part)


def on(visit: Visit, day: date | None = None, person: str = "", part: str = "") -> Record:
    """Return a visit as what is judged, by a day that no line of the book stands for."""
    return Record(f"visit:{visit.number}", day, None, person, part)


def of_line(line: Line | Difference) -> Record:
    """Return a line of the book as what is judged."""
    return Record(f"line:{line.line}", line.on, line.line, line.by)


def of_cylinder(cylinder: Cylinder, day: date | None = None, part: str = "") -> Record:
    """Return a cylinder as what is judged."""
    return Record(f"cylinder:{cylinder.number}", day, part=part)


def of_consignment(one: Consignment, part: str = "") -> Record:
    """Return what was sent away as what is judged."""
    return Record(f"consignment:{one.line}", one.on, one.line, part=part)


def of_person(handle: str, day: date | None = None, part: str = "") -> Record:
    """Return somebody's acts as what is judged."""
    return Record(f"person:{handle}", day, person=handle, part=part)


def moves(visit: Visit, *causes: str) -> Iterator[tuple[Deed, Moved]]:
    """Yield the movements of a visit that have one of these causes, with their deeds."""
    for deed in visit.deeds:
        for one in deed.moved:
            if one.cause in causes:
                yield deed, one


def recovered_mg(visit: Visit) -> int:
    """Return what came out of the vehicle into cylinders, in milligrams; of a machine's two lines the second counts."""
    return sum(one.mass_mg for _, one in moves(visit, *RECOVERIES) if one.cylinder is not None)


def charged_mg(visit: Visit) -> int:
    """Return what was charged, in milligrams."""
    return sum(one.mass_mg for _, one in moves(visit, "charge"))


def first(visit: Visit, *kinds: str) -> Deed | None:
    """Return the first deed of some kinds, or None."""
    return next(iter(visit.of(*kinds)), None)


def arrived_open(visit: Visit) -> bool:
    """Whether the circuit stood open when it came."""
    return any(text_of(deed.data, "state") in OPEN_ON_ARRIVAL for deed in visit.of("received"))


def photographed(deed: Deed) -> bool:
    """Whether a photo belongs to a deed: an uploaded one in time, or a number of one that is kept elsewhere."""
    return deed.photographed or bool(text_of(deed.data, "photo").strip())


def above_the_air(visit: Visit, deed: Deed, name: str = "pressure") -> float | None:
    """Return a pressure of a step above the workshop's atmosphere, in bar, None where it was not read."""
    pressure_pa = si_of(deed.data, name)
    return None if pressure_pa is None else (float(pressure_pa) - air_pa(deed.data, visit.atmosphere_pa)) / 1e5


def stood_empty(visit: Visit, deed: Deed) -> bool:
    """Whether a standing pressure is no more than the atmosphere, by a needle's width."""
    bar = above_the_air(visit, deed)
    return bar is not None and bar <= NEEDLE_BAR


def was_empty(visit: Visit, deeds: Iterable[Deed]) -> bool:
    """Whether one of these deeds is a standing pressure that shows nothing inside."""
    return any(deed.kind == "standing pressure" and stood_empty(visit, deed) for deed in deeds)


def left_evacuated(visit: Visit) -> bool:
    """Whether the book itself had left the vehicle evacuated, and no pressure read on arrival says otherwise."""
    kept = any(text_of(deed.data, HELD_BACK_AS) == "evacuated" for deed in visit.of("received"))
    return kept and not visit.of("standing pressure")


def taken_as_empty(visit: Visit) -> bool:
    """Whether the vehicle was worked on as one that arrived empty: nothing recovered, and nothing said to be inside.

    Not one that the book itself had left evacuated. Silence counts where at least half of the label was charged:
    nobody puts that on top of what is there.
    """
    if recovered_mg(visit) or visit.of("recovery") or left_evacuated(visit):
        return False
    if arrived_open(visit) or visit.proof == "arrived empty":
        return True
    stood = visit.of("standing pressure")
    if stood:
        return any(stood_empty(visit, deed) or text_of(deed.data, "empty") == "yes" for deed in stood)
    label_mg = visit.vehicle.nameplate_mg or 0
    return charged_mg(visit) > 0 and charged_mg(visit) >= HALF * label_mg


def leak_named(visit: Visit) -> bool:
    """Whether a leak was found or something was mended or renewed in this visit."""
    return leak_measured(visit) or bool(visit.of("repair", "part in"))


def leak_measured(visit: Visit) -> bool:
    """Whether a search of this visit found a joint that leaks."""
    return any(float(si_of(deed.data, "leaking") or 0) > 0 for deed in visit.of("leak search", "after-search"))


def worker(visit: Visit) -> str:
    """Return the handle of whoever did the first hands-on step of a visit; of the first step where there is none."""
    hands_on = visit.of("standing pressure", "recovery", "circuit opened", "charge") or visit.deeds
    return hands_on[0].doer if hands_on else ""


def day_of(visit: Visit) -> date:
    """Return the day a visit was opened."""
    return visit.opened_at.date()


def last_year(facts: Workshop, day: date) -> bool:
    """Whether a day lies in the year that ends today."""
    return facts.today - YEAR < day <= facts.today
