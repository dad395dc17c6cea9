"""Cylinders on the scale: single readings, a round of the floor, gas moved from one into another."""

from collections.abc import Iterable, Sequence
from dataclasses import replace
from zoneinfo import ZoneInfo

from django.db import transaction
from django.utils import timezone

from inventory import causes
from inventory.acts.describing import become
from inventory.book import ledger, weighing
from inventory.book.draft import Draft, Line
from inventory.book.holdings import Balances
from inventory.book.ledger import Act, one_entry
from inventory.book.refusals import Refused
from inventory.book.weighing import Gross, Settled, parts_mg
from inventory.gases import filling
from inventory.measure.figures import show_mass
from inventory.models import Begun, Book, Cylinder, Entry, Weighing
from inventory.shelf import photos
from inventory.shelf.limits import filling_limit


def preview(book: Book, gross: Gross) -> Settled:
    """Return what a reading taken now would say of a cylinder; nothing is written."""
    return weighing.settle(Draft(book, timezone.now(), Balances()), gross, Weighing.CHECK)


def weigh(
    book: Book,
    act: Act,
    gross: Gross,
    role: str = Weighing.CHECK,
    taken: Sequence[photos.Taken] = (),
    *,
    meant: tuple[str, str] | None = None,
    leg: str = "",
) -> Entry:
    """Write one reading; its difference to the book goes to or comes from *unexplained* in the same entry.

    With the role *before* the cylinder then stands open on the scale until its next reading: one *after*, or a *check*
    where nothing was meant to move. The photos `taken` are sealed with it or nothing is written.
    `meant` is the refrigerant and grade that comes into an empty cylinder next: it is for that from now on. `leg` is
    what a reading before is taken for, a plain value of the floor above.
    """

    def build(draft: Draft) -> None:
        mean(draft, gross.cylinder, meant)
        weighing.settle(draft, gross, role)
        if leg and role == Weighing.BEFORE:
            draft.then(lambda entry: Begun.objects.create(weighing=entry.weighings.get(), meant=leg))

    with transaction.atomic(durable=True):
        entry = ledger.write(book, act, build, kind=Entry.WEIGH)
        photos.add_taken(book, taken, line=entry)
        return entry


def mean(draft: Draft, cylinder: Cylinder, gas: tuple[str, str] | None) -> None:
    """Let an empty cylinder be for the gas that comes into it before it is weighed: what it has too much is of that."""
    if gas is not None and draft.content(cylinder.account) is None:
        become(cylinder, *gas)


@one_entry(Entry.WEIGH)
def stock_take(draft: Draft, readings: Sequence[Gross]) -> None:
    """Write the readings of one round of the floor as one entry, each with its difference to the book."""
    if not readings:
        raise Refused("No cylinder was weighed. Enter at least one reading.")
    if len({gross.cylinder.pk for gross in readings}) != len(readings):
        raise Refused("A cylinder stands twice in this stock-take. Keep one reading of each.")
    for gross in readings:
        weighing.settle(draft, gross, Weighing.CHECK)


@one_entry()
def transfer(
    draft: Draft,
    *,
    source: Cylinder,
    target: Cylinder,
    before: Gross | None,
    after: Gross,
    jurisdiction: str = "",
    happened: bool = False,
) -> None:
    """Move gas from one cylinder into another by a pair of readings on either of them.

    A heel of another grade drawn into a recovery cylinder of the same refrigerant runs through *process* as recovered.
    """
    weighing.optional_before(draft, before)
    gained_mg, u = weighing.passed(draft, after)
    mass_mg = gained_mg if after.cylinder.pk == target.pk else -gained_mg
    if mass_mg <= 0:
        raise Refused("By these readings nothing went that way. Read the scale again, or swap the cylinders.")
    code, grade, _ = weighing.content_or_last(draft, source)
    refuse_filling(draft, target, code, mass_mg, jurisdiction, happened=happened)
    held = draft.content(target.account)
    target_grade = held[1] if held else _grade_poured(grade, target)
    if held is None:
        become(target, code, target_grade)
    poured, parts = (code, grade, mass_mg), parts_mg(u)
    line = Line("transfer", source.account, target.account, *poured, "pair", *parts, scale=after.scale)
    if target_grade == grade:
        draft.move(line)
        return
    if target_grade not in ("recovered", "suspect") or grade == "suspect":
        raise Refused(
            f"{source} holds {grade} and {target} {target_grade}: a better grade is not made by pouring. "
            "Use a recovery cylinder, or one marked suspect."
        )
    process = draft.account(causes.PROCESS)
    line = replace(line, cause="regrade", basis="rest")
    draft.move(replace(line, target=process))
    draft.move(replace(line, source=process, grade=target_grade))


def _grade_poured(grade: str, target: Cylinder) -> str:
    """Return the grade of gas once it is in an empty cylinder: what stood in a recovery cylinder is never better."""
    return "recovered" if target.kind == Cylinder.RECOVERY and grade != "suspect" else grade


def refuse_filling(
    draft: Draft,
    target: Cylinder,
    code: str,
    mass_mg: int,
    jurisdiction: str,
    *,
    happened: bool,
    parts: Iterable[str] = (),
) -> None:
    """Refuse what may not be filled, unless it has happened already; `parts` are those of a mixture that comes in."""
    if happened:
        return
    day = draft.occurred_at.astimezone(ZoneInfo(draft.book.zone)).date()
    if (reason := filling.refusal(target.kind, target.requalify_by, day)) is not None:
        raise Refused(f"{target}: {reason}")
    if target.is_gone:
        raise Refused(f"{target} is {target.state}. Choose a cylinder that stands here.")
    held = draft.content(target.account)
    held_mg = held[2] if held else 0
    limit = filling_limit(target, held[0], jurisdiction) if held else filling_limit(target, code, jurisdiction, parts)
    if limit is not None and held_mg + mass_mg > limit.max_net_g * 1000:
        over_mg = held_mg + mass_mg - limit.max_net_mg
        raise Refused(
            f"{show_mass(held_mg + mass_mg)} is {show_mass(over_mg)} over what {target} may hold "
            f"({show_mass(limit.max_net_mg)}, {limit.words}). Use another cylinder."
        )
