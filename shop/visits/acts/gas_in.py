"""Gas into a vehicle, by the readings of a cylinder or by the figure of a machine. Masses in milligrams."""

from inventory.book import weighing
from inventory.book.draft import Draft, Line
from inventory.book.ledger import Act
from inventory.book.refusals import Refused
from inventory.book.weighing import Gross, parts_mg
from inventory.measure import uncertainty
from inventory.measure.uncertainty import U
from inventory.models import Cylinder, Entry, Scale
from shop.models import Step, Vehicle, Visit
from shop.visits.acts.entering import StepFacts, with_step


def charge(visit: Visit, act: Act, facts: StepFacts, *, before: Gross | None, after: Gross) -> tuple[Entry, Step]:
    """Write one leg of a charge, by the readings of the cylinder before and after.

    It has happened when it is entered, so a wrong gas is written too; findings show it.
    """

    def build(draft: Draft) -> None:
        weighing.optional_before(draft, before)
        gained_mg, u = weighing.passed(draft, after)
        if gained_mg >= 0:
            raise Refused(
                "After weighs no less than before: by these readings nothing was charged. Read the scale again."
            )
        _put_in(draft, visit.vehicle, after.cylinder, -gained_mg, "pair", u, after.scale)

    return with_step(visit, act, "charge", facts, build)


def charge_shown(
    visit: Visit, act: Act, facts: StepFacts, *, source: Cylinder, mass_mg: int, basis: str = "machine"
) -> tuple[Entry, Step]:
    """Write a charge by the figure of a charging machine, or by counted cans (`basis` *count*)."""
    u = uncertainty.machine((source.machine_limit_mg or 0) / 1000)
    return with_step(
        visit, act, "charge", facts, lambda draft: _put_in(draft, visit.vehicle, source, mass_mg, basis, u)
    )


def _put_in(
    draft: Draft, vehicle: Vehicle, source: Cylinder, mass_mg: int, basis: str, u: U, scale: Scale | None = None
) -> None:
    """Move gas into a vehicle, which then holds all or at least what was charged."""
    content = draft.content(source.account)
    if content is None:
        raise Refused(f"The book has nothing in {source}.")
    code, grade, _ = content
    draft.move(Line("charge", source.account, vehicle.account, code, grade, mass_mg, basis, *parts_mg(u), scale))
    vehicle.content = "known" if vehicle.content in ("evacuated", "known") else "at least"
    vehicle.refrigerant = vehicle.refrigerant or code
    vehicle.save(update_fields=["content", "refrigerant"])
