"""The story of Port Ellery, event by event, as its people press it through the pages.

Each event moves the clock to its moment and takes the book from where the one before left it. What the acceptance
scenarios type otherwise than the demonstration stands in `HERE`, by the moment; what is
empty there is left out.
"""

from collections.abc import Mapping, Sequence
from functools import singledispatch
from itertools import chain

from inventory.models import Cylinder
from shop.demo import cast, events, story
from tests.scenarios.pages import Page
from tests.scenarios.shop_floor import OWNER, STAMPED, TECHNICIAN, TRAINEE, Floor, readings

WHO = {cast.OWNER: OWNER, cast.TECHNICIAN: TECHNICIAN, cast.TRAINEE: TRAINEE}
STAMP = {"tare_source": STAMPED, "tare_limit": "50 g"}
PULLED_DOWN = {**story.PULLED_DOWN, "pressure_after_wait": story.PULLED_DOWN["final_pressure"]}
ASKED_ABOUT = (11_240, 11_880)  # two digits of 11.420 exchanged; nearly the reading of another day
NO_FITTINGS = {"high_fitting": "", "low_fitting": "", "lubricant": "", "cut_out": "fitted"}
HERE: dict[str, dict[str, str]] = {
    "03-03 09:40": {"coldest": "20 C"},
    "03-03 11:45": {"gauge": "G9"},
    "03-03 14:00": NO_FITTINGS,  # they stay asked for
    "04-14 09:20": {"empty": "yes", "photo": "P-0414"},
    "05-06 08:00": {"refrigerant": "R-1234yf", "grade": "recovered"},
    "05-06 10:00": {"coldest": "25 C"},
    "08-05 08:30": {"photo": "P-0805"},
    "08-12 08:30": {"photo": "P-0812"},
    "08-21 08:30": {"photo": "P-0821"},
    "09-01 09:00": {"temperature": "22 C"},
    "09-15 13:00": {"photo": "P-0915"},
    "10-07 09:40": {"coldest": "25 C"},
    "10-07 10:35": {"why": ""},  # it stays asked for
    "12-02 10:15": {"photo": "P-1202"},
}


def kg(grams: float) -> str:
    """Return a mass as it is typed from a scale."""
    return f"{grams / 1000:.3f} kg"


def play(floor: Floor, *chapters: Sequence[events.Event]) -> Page:
    """Press what happens in some chapters, and return the last page.

    The pages between are opened where the floor looks at every page, as scenario 10 does for the whole year.
    """
    told = [event for event in chain.from_iterable(chapters) if not isinstance(event, events.Also)]
    for event in told:
        floor.looks = floor.looks_always or event is told[-1]
        floor.at(event.at, WHO[event.who])
        page = happen(event, floor)
    return page


def opening(floor: Floor, *only: str) -> None:
    """Enter what stood there on 1 January; all of it, or some cylinders alone."""
    play(floor, [event for event in story.OPENING if event.serial in only or not only])


def typed(event: events.Event) -> dict[str, str]:
    """Return what is typed of an event, its readings row by row."""
    found = {**event.typed, **HERE.get(event.at, {})}
    if "final_pressure" in found:
        found["pressure_after_wait"] = found["final_pressure"]  # the scenarios let it stand still
    return {name: text for name, text in row_by_row(found).items() if text}


def row_by_row(said: Mapping[str, str]) -> dict[str, str]:
    """Return what is typed with its readings, if it has any, in a field each."""
    found = dict(said)
    if rows := found.pop("readings", ""):
        found |= readings(*(tuple(part.strip() for part in row.split(",")) for row in rows.split(";")))
    return found


def insisting(step_g: int, *grams: float) -> bool:
    """Whether a person insists on a reading: it lies between two steps of the scale, or is asked about."""
    return any(one % step_g or one in ASKED_ABOUT for one in grams)


@singledispatch
def happen(event: events.Event, floor: Floor) -> Page:
    """Press what an event says, and return the page that follows."""
    raise NotImplementedError(event)


@happen.register
def _received(event: events.Received, floor: Floor) -> Page:
    about = cast.CYLINDERS[event.serial]
    said = {"origin": event.origin, **typed(event)}
    if about.litres:
        said["water_capacity"] = f"{about.litres} L"
    if about.kind == Cylinder.RECOVERY:
        said["requalify_by"] = cast.TESTED_UNTIL.isoformat()
    if about.stamped:
        said |= STAMP
    if event.gross_g is not None:
        said |= {"gross": kg(event.gross_g), "scale": "S1"}
    if event.machine_g is not None:
        said |= {"machine_mass": kg(event.machine_g), "machine_limit": "15 g", "recycles": "yes"}
    if event.paper:
        said |= {"paper_mass": kg(event.paper_g), "paper_number": event.paper, "partner": cast.SUPPLIER}
    gas = said.pop("refrigerant", about.refrigerant), said.pop("grade", about.grade)
    return floor.receive(event.serial, about.kind, *gas, kg(about.tare_g), **said)


@happen.register
def _arrived(event: events.Arrived, floor: Floor) -> Page:
    floor.arrive(event.plate, **typed(event))
    return floor.visit(event.plate) if floor.looks else Page(303, floor.of(event.plate), "")


@happen.register
def _did(event: events.Did, floor: Floor) -> Page:
    return floor.step(event.plate, event.kind.replace(" ", "-"), **typed(event))


@happen.register
def _recovered(event: events.Recovered, floor: Floor) -> Page:
    said = typed(event)
    if event.answers:
        said["answers"] = WHO[event.answers]
    by = {"before": kg(event.before_g), "after": kg(event.after_g), "scale": "S1"}
    it_does_read = insisting(5, event.before_g, event.after_g)
    return floor.recover(event.plate, event.serial, it_does_read=it_does_read, **by, **said)


@happen.register
def _charged(event: events.Charged, floor: Floor) -> Page:
    by = {"before": kg(event.before_g), "after": kg(event.after_g), "scale": "S2"}
    it_does_read = insisting(2, event.before_g, event.after_g)
    return floor.charge(event.plate, event.serial, it_does_read=it_does_read, **by, **typed(event))


@happen.register
def _machine_recovered(event: events.MachineRecovered, floor: Floor) -> Page:
    by = {"shown": f"{event.shown_g} g", "purged": f"{event.purged_g} g"}
    return floor.recover(event.plate, event.serial, **by, **typed(event))


@happen.register
def _machine_charged(event: events.MachineCharged, floor: Floor) -> Page:
    return floor.charge(event.plate, event.serial, shown=f"{event.shown_g} g", **typed(event))


@happen.register
def _checked(event: events.Checked, floor: Floor) -> Page:
    return floor.check(event.serial, kg(event.gross_g), "S1", it_does_read=insisting(5, event.gross_g))


@happen.register
def _explained(event: events.Explained, floor: Floor) -> Page:
    seq = floor.last("weighing-difference").entry.seq
    return floor.enter(f"lines/{seq}/explain/", cause="loss-explained", reason=event.reason)


@happen.register
def _sent_away(event: events.SentAway, floor: Floor) -> Page:
    return floor.enter(
        f"cylinders/{floor.number(event.serial)}/send-away/",
        it_does_read=insisting(5, event.gross_g),
        partner=event.partner,
        purpose=event.purpose,
        number=event.number,
        gross=kg(event.gross_g),
        scale="S1",
        **typed(event),
    )


@happen.register
def _accepted(event: events.Accepted, floor: Floor) -> Page:
    paper = {"accepted": kg(event.accepted_g), "oil": f"{event.oil_g} g", "accepted_on": event.on}
    return floor.enter(f"lines/{floor.last('sent-away').entry.seq}/accepted/", **paper, paper_number=event.paper)


@happen.register
def _settled(event: events.Settled, floor: Floor) -> Page:
    """What the book still has in it is split as the page fills it in, and read back."""
    rest = "lost on the road before it came"
    return floor.enter(f"{floor.of(event.plate)}add/remainder-settled/", rest=rest, **event.typed)


HELD_STILL = row_by_row(story.VACUUM)

# What the scenarios tell otherwise than the demonstration does


def charge(floor: Floor, plate: str, serial: str, before: str, after: str, **more: str) -> Page:
    """Charge by two readings on S2; its person insists where one lies between the steps of 2 g."""
    by = {"before": before, "after": after, "scale": "S2"}
    return floor.charge(plate, serial, it_does_read=True, **by, **story.LIQUID_HIGH, **more)


def a_monday_reading_is_short(floor: Floor) -> Page:
    """Friday's reading agrees, Monday's does not."""
    floor.at("06-13 17:00")
    floor.check("C-35", "11.420 kg", "S1")
    return play(floor, story.A_READING_IS_SHORT)


def a_bus_and_a_full_cylinder(floor: Floor) -> None:
    """A city bus fills one cylinder and half of another, by the European Union's rules."""
    floor.rules("eu")
    play(floor, story.A_SECOND_CYLINDER_STANDS_READY, story.A_BUS_ARRIVES)
    play(floor, story.THE_BUS_FILLS_ONE_CYLINDER, story.THE_BUS_IS_EMPTIED_AND_CHARGED)


def a_charge_begins(floor: Floor) -> None:
    """V4 stands there, and C-44 has its reading before."""
    play(floor, story.A_REPAIRED_CAR_STANDS_THERE)
    floor.at("09-15 13:50")
    floor.weigh("C-44", kg(story.BY_THE_RESTARTED_SCALE.before_g), "S2")


def by_the_restarted_scale() -> dict[str, object]:
    """Return what is typed of that charge once the reading before stands."""
    event = story.BY_THE_RESTARTED_SCALE
    return {"after": kg(event.after_g), "scale": "S2", "restarted": event.restarted, **event.typed}


def copied_from_paper(floor: Floor) -> Page:
    """The lights fail too: what happened at 14:10 is copied from sheet 0217."""
    paper = {"number": "0217", "reason": "the lights failed", "copied_by": TECHNICIAN, "photo": "P-0217"}
    floor.step("V4", "interrupted", why="scale", left="valve shut", **{"from": "2025-09-15 13:55", "to": "14:05"})
    floor.step("V4", "paper-sheet", occurred_at="2025-09-15 14:10", **paper)
    return floor.charge("V4", "C-44", **by_the_restarted_scale(), occurred_at="2025-09-15 14:10", note="sheet 0217")


def the_scale_fails(floor: Floor) -> None:
    """S2 goes dark in the middle of a charge, then the lights."""
    a_charge_begins(floor)
    floor.at("09-15 18:40")
    copied_from_paper(floor)
