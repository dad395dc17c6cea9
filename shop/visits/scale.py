"""What a reading would say, before it is written: the same reckoning as the act itself, on a draft that is thrown away.

The sentences stand under the field while it is typed, and on the read-back page where there is no script.
"""

from dataclasses import dataclass, field
from datetime import datetime

from inventory.book import ledger, weighing
from inventory.book.draft import Draft
from inventory.book.holdings import Balances
from inventory.book.weighing import Gross, Settled
from inventory.measure import uncertainty
from inventory.measure.displays import in_book, moved, small
from inventory.measure.figures import MINUS
from inventory.measure.uncertainty import U
from inventory.models import Book, Cylinder, Weighing
from inventory.shelf.plausible import MOST_LEG_MG, Expected
from shop.bench.charging import Charge


@dataclass(frozen=True)
class Said:
    """What a reading says; masses in milligrams. `facts` change when the book has changed meanwhile."""

    lines: list[str]
    net_mg: int
    change_mg: int = 0  # of a second reading: what the cylinder gained
    u_mg: int = 0
    facts: list[object] = field(default_factory=list)
    shows: bool = True  # false where a target has a band and these readings cannot show that it is met
    plain: bool = False  # as the book has it and on its target: nothing in it is for a person to decide
    gap: str = ""  # what a first reading is short of, or has more than, the one before: more than both can tell


@dataclass(frozen=True)
class Target:
    """What is to be charged: milligrams, and how far from it is still on it; `already` is what earlier legs put in.

    The parts of `already_u` are as `uncertainty.total` takes them.
    """

    mass_mg: int
    tolerance_mg: int = 0
    already_mg: int = 0
    already_u: tuple[tuple[str, U, int], ...] = ()

    def against(self, charged_g: float, u_g: float) -> Charge:
        """Return a charged mass against it, both in grams, as it is judged: by its band."""
        return Charge(
            target_g=self.mass_mg / 1000, tolerance_g=self.tolerance_mg / 1000, drawn_g=charged_g, u_drawn_g=u_g
        )


def leg_expected(first: Gross | None, *, gains: bool | None, label_mg: int | None, already_mg: int = 0) -> Expected:
    """Return what is known beforehand of the second reading of a leg with a vehicle of this label (mg)."""
    about_mg = max((label_mg or 0) - already_mg, 0) or None
    return Expected(first=first, gains=gains, most_mg=max(MOST_LEG_MG, 2 * (label_mg or 0)), about_mg=about_mg)


def first_reading(book: Book, gross: Gross, at: datetime, unit: str, role: str = Weighing.BEFORE) -> Said:
    """Return what a reading that stands by itself says against the book; `unit` is the book's. Raises LedgerError."""
    draft = Draft(book, at, Balances())
    earlier = ledger.last_weighing(gross.account)
    unknown = _lacks_tare(gross)
    settled = weighing.settle(draft, gross, role)
    line = f"Read as {gross.said} gross, net {shown(gross, settled.net_mg, unit)}. "
    first = not earlier and settled.difference_mg == settled.net_mg
    line += "First reading." if first else _against(settled, earlier, unit)
    facts: list[object] = [settled.net_mg, settled.difference_mg, earlier.pk if earlier else 0]
    said = [line, *_tare_said(gross, unit, settled=unknown)]
    gap = "" if first or settled.agrees else _gap(settled, earlier, unit)
    return Said(said, settled.net_mg, facts=facts, plain=settled.agrees and not unknown, gap=gap)


def _lacks_tare(gross: Gross) -> bool:
    """Whether the book has no empty mass yet, whatever the form has reckoned meanwhile."""
    return Cylinder.objects.get(pk=gross.cylinder.pk).lacks_tare


def _tare_said(gross: Gross, unit: str, *, settled: bool) -> list[str]:
    """Say which empty mass a first reading settles."""
    one = gross.cylinder
    return [f"Empty mass settled by this: {in_book(one.tare_mg, unit)}, {one.tare_source}."] if settled else []


def _against(settled: Settled, earlier: Weighing | None, unit: str) -> str:
    than = "last time" if earlier else "the book has"
    can_tell = small(settled.can_tell_mg, unit)
    if settled.difference_mg == 0:
        return f"As {than}: agrees."
    gap = _gap(settled, earlier, unit)
    if settled.agrees:
        return f"{gap}: agrees (readings can tell {can_tell})."
    times = abs(settled.difference_mg) / settled.can_tell_mg if settled.can_tell_mg else 0
    return f"{gap}: unexplained, {times:.1f} times what the two readings can tell ({can_tell})."


def _gap(settled: Settled, earlier: Weighing | None, unit: str) -> str:
    way, than = "less" if settled.difference_mg < 0 else "more", "last time" if earlier else "the book has"
    return f"{small(abs(settled.difference_mg), unit)} {way} than {than}"


def second_reading(
    book: Book, before: Gross | None, after: Gross, at: datetime, unit: str, target: Target | None = None
) -> Said:
    """Return what passed between two readings; `before` None where it stands open in the book. Raises LedgerError."""
    draft = Draft(book, at, Balances())
    lines, plain, gap = [], True, ""
    if before is not None:
        unknown = _lacks_tare(before)
        settled = weighing.settle(draft, before, Weighing.BEFORE)
        earlier = ledger.last_weighing(before.account)
        lines.append(f"Before: net {shown(before, settled.net_mg, unit)}. {_against(settled, earlier, unit)}")
        lines += _tare_said(before, unit, settled=unknown)
        plain = settled.agrees and not unknown
        gap = _gap(settled, earlier, unit) if earlier and not settled.agrees else ""
    gained_mg, u = weighing.passed(draft, after)
    u_mg = round(u.total_g * 1000)
    net_mg = max(after.gross_mg - after.cylinder.tare_mg, 0)
    lines.append(f"Read as {after.said} gross: {change_said(gained_mg, u_mg, unit)}.")
    shows = True
    if target is not None and gained_mg < 0:
        whole = uncertainty.total([*target.already_u, (str(after.scale.pk), u, 1)])
        total_mg, whole_u_mg = target.already_mg - gained_mg, round(whole.total_g * 1000)
        lines.append(target_said(total_mg, whole_u_mg, target, unit))
        judged = target.against(total_mg / 1000, whole_u_mg / 1000)
        shows = not target.tolerance_mg or judged.verdict != "cannot-show"
        near = abs(total_mg - target.mass_mg) <= 2 * whole_u_mg
        plain = plain and (judged.verdict == "within" if target.tolerance_mg else near)
    lines.append(f"{after.cylinder} then holds {shown(after, net_mg, unit)}.")
    return Said(lines, net_mg, gained_mg, u_mg, [net_mg, gained_mg], shows, plain, gap)


def stop_said(before: Weighing, target_mg: int, already_mg: int, unit: str) -> str:
    """Say at which gross a target is reached, in the displays of the scale; empty where the cylinder has too little."""
    rest_mg = target_mg - already_mg
    if rest_mg <= 0:
        return f"The target of {moved(target_mg, unit)} is in it already."
    stop_mg = before.gross_mg - rest_mg
    if stop_mg < before.account.cylinder.tare_mg:
        return f"{moved(rest_mg, unit)} to charge: more than this cylinder holds."
    step = before.scale.step
    at = step.show(step.mg_of(step.count(stop_mg)))
    return f"{moved(rest_mg, unit)} to charge: stop when the scale shows {at} gross."


def change_said(gained_mg: int, u_mg: int, unit: str) -> str:
    """Return "0.450 kg out, give or take 4 g"."""
    doubt = f"give or take {small(round(2 * u_mg), unit)}"
    if gained_mg == 0:
        return f"nothing moved, {doubt}"
    return f"{moved(abs(gained_mg), unit)} {'in' if gained_mg > 0 else 'out'}, {doubt}"


def target_said(mass_mg: int, u_mg: int, target: Target, unit: str) -> str:
    """Return how a charged mass stands to its target, and whether these readings can show it."""
    off_mg = mass_mg - target.mass_mg
    head = f"Target {moved(target.mass_mg, unit)}: "
    if target.already_mg:
        head += f"{moved(mass_mg, unit)} with the legs before, "
    gap = "on it" if off_mg == 0 else f"{small(abs(off_mg), unit)} {'over' if off_mg > 0 else 'under'}"
    if not target.tolerance_mg:
        return f"{head}{gap}."
    low, high = target.mass_mg - target.tolerance_mg, target.mass_mg + target.tolerance_mg
    band = f"{small(low, unit)} to {small(high, unit)}"
    verdict = target.against(mass_mg / 1000, u_mg / 1000).verdict
    if verdict != "cannot-show":
        return f"{head}{gap}, {'within' if verdict == 'within' else 'outside'} {band}."
    reach = f"{small(mass_mg - 2 * u_mg, unit)} to {small(mass_mg + 2 * u_mg, unit)}"
    return f"{head}{gap}; these readings cannot show that it is within {band} (they say {reach})."


def shown(gross: Gross, mass_mg: int, unit: str) -> str:
    """Return a mass in the book's unit, to a gram or its like, or as finely as the scale shows."""
    text = in_book(abs(mass_mg), unit, gross.scale.step)
    return f"{MINUS}{text}" if mass_mg < 0 else text
