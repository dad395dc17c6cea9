"""Gas that is lost, and a cylinder that was thought gone and turns up."""

from inventory import causes
from inventory.acts.writing import one_entry
from inventory.book import weighing
from inventory.book.draft import Draft, Line
from inventory.book.refusals import Refused
from inventory.book.weighing import Gross, parts_mg
from inventory.models import Cylinder

WROTE_OFF = ("missing", "scrapped-with-rest")
"""Causes with which the cylinder itself is done with."""


@one_entry()
def lose(draft: Draft, cylinder: Cylinder, cause: str, *, before: Gross | None, after: Gross | None) -> None:
    """Enter a loss: by a pair of readings (purge, leaked-from-stock, was-oil), or all that the cylinder held."""
    kind = {"missing": causes.UNEXPLAINED, "was-oil": causes.OPENING}.get(cause, causes.AIR)
    target = draft.account(kind)
    if after is not None:
        weighing.optional_before(draft, before)
        code, grade, _ = weighing.content_or_last(draft, cylinder)
        gained_mg, u = weighing.passed(draft, after)
        if gained_mg >= 0:
            raise Refused("By these readings nothing left the cylinder. Read the scale again.")
        left, parts = (code, grade, -gained_mg), parts_mg(u)
        draft.move(Line(cause, cylinder.account, target, *left, "pair", *parts, scale=after.scale))
        return
    content = draft.content(cylinder.account)
    if content is None:
        raise Refused(f"The book has nothing in {cylinder}.")
    draft.move(Line(cause, cylinder.account, target, *content, "rest"))
    if cause in WROTE_OFF:
        cylinder.turn("done with")


@one_entry()
def turn_up(draft: Draft, gross: Gross) -> None:
    """Take a cylinder that the book thought gone back onto the shelf, by its weighing."""
    cylinder = gross.cylinder
    if draft.content(cylinder.account) is not None:
        raise Refused(f"The book has gas in {cylinder}: weigh it instead.")
    code, grade, _ = weighing.content_or_last(draft, cylinder)
    mass_mg, _ = weighing.single_net(draft, gross)
    if mass_mg > 0:
        unexplained = draft.account(causes.UNEXPLAINED)
        weighing.move_all(draft, gross, "turned-up", unexplained, cylinder.account, (code, grade, mass_mg))
    cylinder.turn("ready")
