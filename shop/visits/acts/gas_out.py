"""Gas out of a vehicle: what a cylinder could take, a leg of a recovery, and what is left settled; in milligrams."""

from collections.abc import Sequence
from dataclasses import dataclass

from django.utils import timezone

from inventory import causes
from inventory.acts import describing, onscale, settling
from inventory.book import weighing
from inventory.book.draft import Draft, Line
from inventory.book.holdings import Balances
from inventory.book.ledger import Act
from inventory.book.refusals import Refused
from inventory.book.weighing import Gross, parts_mg
from inventory.gases import filling
from inventory.gases.catalogue import MIXED
from inventory.measure import uncertainty
from inventory.models import Cylinder, Entry
from inventory.shelf.limits import filling_limit
from shop.models import Step, Visit
from shop.people.vehicles import in_vehicle_mg, set_content
from shop.visits.acts.entering import StepFacts, with_step
from shop.visits.gas import FromVehicle


@dataclass(frozen=True)
class Room:
    """What one cylinder could take of a gas, before it flows: `room_mg` None where no limit is known.

    `refusal` is the sentence that says why it may not take this gas, and the way out; empty where it may.
    """

    cylinder: Cylinder
    content: tuple[str, str, int] | None
    limit: filling.Limit | None
    room_mg: int | None
    refusal: str = ""
    becomes: str = ""  # where it was entered for another refrigerant: what it is by this

    @property
    def held_mg(self) -> int:
        """What it holds now."""
        return self.content[2] if self.content else 0


def rooms(visit: Visit, gas: FromVehicle, jurisdiction: str, cylinders: Sequence[Cylinder]) -> list[Room]:
    """Return what each of `cylinders` could take of what is in a vehicle."""
    balances = Balances()
    balances.preload(cylinder.account for cylinder in cylinders)
    draft = Draft(visit.workshop.book, timezone.now(), balances)
    return [_room(draft, cylinder, gas, jurisdiction) for cylinder in cylinders]


def _room(draft: Draft, cylinder: Cylinder, gas: FromVehicle, jurisdiction: str) -> Room:
    content = draft.content(cylinder.account)
    if content is not None:
        limit = filling_limit(cylinder, content[0], jurisdiction)
    else:
        limit = filling_limit(cylinder, gas.refrigerant, jurisdiction, gas.parts or ())
    room_mg = None if limit is None else limit.max_net_mg - (content[2] if content else 0)
    try:
        if cylinder.kind == Cylinder.TANK:
            _refuse_tank(cylinder, content, gas.refrigerant)
        else:
            _refuse_target(draft, cylinder, gas, jurisdiction, happened=False)
            known = gas.parts or ()
            onscale.refuse_filling(draft, cylinder, gas.refrigerant, 1, jurisdiction, happened=False, parts=known)
    except Refused as refused:
        return Room(cylinder, content, limit, room_mg, str(refused))
    return Room(cylinder, content, limit, room_mg, becomes=_becomes(cylinder, content, gas))


def _becomes(cylinder: Cylinder, content: tuple[str, str, int] | None, gas: FromVehicle) -> str:
    """Say that an empty cylinder was entered for another refrigerant than the one that goes into it now."""
    if content is not None or cylinder.refrigerant == gas.refrigerant:
        return ""
    what = "a cylinder for a mixture" if gas.refrigerant == MIXED else f"an {gas.refrigerant} cylinder"
    return f"entered for {cylinder.refrigerant}; it becomes {what} by this"


def recover(
    visit: Visit,
    act: Act,
    facts: StepFacts,
    *,
    gas: FromVehicle,
    before: Gross | None,
    after: Gross,
    jurisdiction: str = "",
    happened: bool = False,
) -> tuple[Entry, Step]:
    """Write one leg of a recovery into one cylinder, by the cylinder's readings before and after.

    Readings that show no gain are an entry with weighings and no movement: nothing was recovered.
    """
    target, vehicle = after.cylinder, visit.vehicle

    def build(draft: Draft) -> None:
        if before is not None:
            onscale.mean(draft, before.cylinder, None if happened else (gas.refrigerant, gas.grade))
        weighing.optional_before(draft, before)
        _refuse_target(draft, target, gas, jurisdiction, happened=happened)
        code, grade = _as_held(draft, target, gas)
        mass_mg, u = weighing.passed(draft, after)
        if mass_mg < 0:
            raise Refused("By these readings the cylinder gave gas to the vehicle. Read the scale again.")
        if mass_mg == 0:
            return
        onscale.refuse_filling(draft, target, code, mass_mg, jurisdiction, happened=happened, parts=gas.parts or ())
        settling.found_in_vehicle(draft, vehicle.account, code, grade, mass_mg, "pair", u)
        draft.move(
            Line("recovery", vehicle.account, target.account, code, grade, mass_mg, "pair", *parts_mg(u), after.scale)
        )
        describing.become(target, code, grade)
        set_content(vehicle, "part recovered")
        if gas.parts:
            parts = gas.parts
            draft.then(lambda entry: describing.note_parts(target.account, entry, parts))

    return with_step(visit, act, "recovery", facts, build)


def _refuse_target(draft: Draft, target: Cylinder, gas: FromVehicle, jurisdiction: str, *, happened: bool) -> None:
    """Refuse, before anything flows, a cylinder that may not take this gas."""
    if happened:
        return
    held = draft.content(target.account)
    if target.kind in (Cylinder.SINGLE_TRIP, Cylinder.CANS):
        raise Refused(f"{target} is a single-trip cylinder: it is never filled. Use a recovery cylinder.")
    if held is None:
        onscale.refuse_filling(draft, target, gas.refrigerant, 0, jurisdiction, happened=False)
        return
    if held[0] != gas.refrigerant:
        raise Refused(
            f"{target} holds {held[0]} {held[1]}; {gas.refrigerant} would be mixed into it. "
            "Use an empty recovery cylinder, or one marked suspect that holds the same."
        )
    if held[1] not in ("recovered", "suspect"):
        raise Refused(
            f"{target} holds {held[1]} gas; what comes out of a vehicle is {gas.grade}. Use a recovery cylinder."
        )
    if gas.grade == "suspect" and held[1] != "suspect":
        raise Refused(f"{target} holds {held[1]} gas; suspect gas goes into a cylinder marked suspect.")


def _as_held(draft: Draft, target: Cylinder, gas: FromVehicle) -> tuple[str, str]:
    """Return what the gas is in the target; a mixture that has happened makes the whole content MIXED, suspect."""
    held = draft.content(target.account)
    if held is None:
        return gas.refrigerant, gas.grade
    if held[0] == gas.refrigerant and held[1] in ("recovered", "suspect"):
        return held[0], held[1]
    if held[:2] != (MIXED, "suspect"):
        process = draft.account(causes.PROCESS)
        draft.move(Line("re-identified", target.account, process, *held, "rest"))
        draft.move(Line("re-identified", process, target.account, MIXED, "suspect", held[2], "rest"))
    return MIXED, "suspect"


def recover_by_machine(
    visit: Visit,
    act: Act,
    facts: StepFacts,
    *,
    tank: Cylinder,
    refrigerant: str,
    recovered_mg: int,
    purged_mg: int = 0,
) -> tuple[Entry, Step]:
    """Write what a machine shows as recovered into its tank, and what it purged off the top.

    A machine that recycles this refrigerant holds it as recycled; another holds it as recovered.
    """
    vehicle, u = visit.vehicle, uncertainty.machine((tank.machine_limit_mg or 0) / 1000)

    def build(draft: Draft) -> None:
        if tank.kind != Cylinder.TANK:
            raise Refused(f"{tank} is no machine tank: weigh it before and after instead.")
        _refuse_tank(tank, draft.content(tank.account), refrigerant)
        if recovered_mg <= 0:
            return
        grade = "recycled" if tank.recycles else "recovered"
        process, parts = draft.account(causes.PROCESS), parts_mg(u)
        settling.found_in_vehicle(draft, vehicle.account, refrigerant, "recovered", recovered_mg, "machine", u)
        for ends in ((vehicle.account, process, refrigerant, "recovered"), (process, tank.account, refrigerant, grade)):
            draft.move(Line("recovery-through-machine", *ends, recovered_mg, "machine", *parts))
        if purged_mg > 0:
            air = draft.account(causes.AIR)
            draft.move(Line("purge", tank.account, air, refrigerant, grade, purged_mg, "computed"))
        set_content(vehicle, "part recovered")

    return with_step(visit, act, "recovery", facts, build)


def _refuse_tank(tank: Cylinder, content: tuple[str, str, int] | None, refrigerant: str) -> None:
    if content is not None and content[0] != refrigerant:
        raise Refused(f"{tank} holds {content[0]}; {refrigerant} would be mixed into it. Use a recovery cylinder.")


@dataclass(frozen=True)
class Remainder:
    """How what the book still has in a vehicle after recovery is split; milligrams, `residue_u_mg` standard."""

    residue_mg: int = 0
    residue_u_mg: int = 0
    road_mg: int = 0
    hands_mg: int = 0
    shortfall_mg: int = 0

    @property
    def named_mg(self) -> int:
        """All that has a place to go to."""
        return self.residue_mg + self.road_mg + self.hands_mg + self.shortfall_mg


def settle_remainder(
    visit: Visit, act: Act, facts: StepFacts, refrigerant: str, remainder: Remainder
) -> tuple[Entry, Step]:
    """Take what is left on a vehicle out of it: pumped out, lost on the road, lost in our hands, or not explained."""
    vehicle = visit.vehicle

    def build(draft: Draft) -> None:
        held_mg = max(in_vehicle_mg(vehicle, draft.balances).get(refrigerant, 0), 0)  # less: a charge was reversed
        named_mg = remainder.named_mg
        if named_mg > held_mg:
            raise Refused(
                f"The book has {held_mg / 1000:.1f} g {refrigerant} left in {vehicle}; "
                f"{named_mg / 1000:.1f} g cannot be taken out of it."
            )
        air, unexplained = draft.account(causes.AIR), draft.account(causes.UNEXPLAINED)
        parts = (
            ("evacuated-residue", air, remainder.residue_mg, "computed", remainder.residue_u_mg),
            ("lost-on-the-road", air, remainder.road_mg, "rest", 0),
            ("lost-in-our-hands", air, remainder.hands_mg, "rest", 0),
            ("vehicle-shortfall", unexplained, remainder.shortfall_mg, "rest", 0),
        )
        for cause, target, mass_mg, basis, u_mg in parts:
            if mass_mg > 0:
                draft.move(Line(cause, vehicle.account, target, refrigerant, "recovered", mass_mg, basis, u_mg))
        set_content(vehicle, "evacuated" if named_mg == held_mg else "part recovered")

    return with_step(visit, act, "remainder settled", facts, build)
