"""Weighings against the book: what a reading says, how it differs, and what passed between two of them.

After every reading the cylinder's holding equals the reading's net: the difference to the book before it is one
movement to or from *unexplained*, whatever its size. A mass charged or recovered is the holding at the first reading
less the net of the second.
"""

from dataclasses import dataclass, replace

from inventory import causes
from inventory.book import emptymass, ledger
from inventory.book.draft import Draft, Line, Reading
from inventory.book.holdings import Content
from inventory.book.refusals import LedgerError, WrongTime
from inventory.measure import uncertainty, wire
from inventory.measure.displays import in_book
from inventory.models import Account, Cylinder, Movement, Scale, Weighing


class BelowTare(LedgerError):
    """The reading is lighter than the empty cylinder."""


class NotHere(LedgerError):
    """By the book the cylinder is not on the shelf, so nobody can have weighed it there."""


class NoFirstReading(LedgerError):
    """A mass between two readings was asked for, and there is only one."""


@dataclass(frozen=True)
class Gross:
    """A gross reading of a cylinder; `restarted`: the scale was switched off or zeroed since the one before."""

    cylinder: Cylinder
    scale: Scale
    gross_mg: int
    typed: str
    restarted: bool = False
    raw: str = ""  # what the scale sent by wire, where it did

    @property
    def account(self) -> Account:
        """The account of the cylinder."""
        return self.cylinder.account

    @property
    def step_mg(self) -> int:
        """The step of the reading: the scale's, or that in which it was sent by wire where that is coarser."""
        return max(int(self.scale.step_mg), round(wire.step_mg(self.raw)) if self.raw else 0)

    @property
    def said(self) -> str:
        """The reading as the scale shows it."""
        return self.scale.step.show(self.gross_mg)


Before = Reading | Weighing
"""The reading that a new one is compared with: in the same draft, or already written."""


@dataclass(frozen=True)
class Settled:
    """What a reading said: net, the difference to the book (positive: more than the book had), what can be told."""

    net_mg: int
    difference_mg: int
    can_tell_mg: int

    @property
    def agrees(self) -> bool:
        """Whether the difference is within what the two readings can tell."""
        return abs(self.difference_mg) <= self.can_tell_mg


def of_scale(scale: Scale, step_mg: int = 0) -> uncertainty.Scale:
    """Return the scale as the uncertainty calculations take it, in grams; with the step of a reading if coarser."""
    return uncertainty.Scale(
        step_g=max(float(scale.step.mg), step_mg) / 1000,
        span=scale.span,
        zero_g=None if scale.zero_mg is None else scale.zero_mg / 1000,
        name=scale.name,
        accuracy_class=scale.accuracy_class or None,
    )


def before_of(draft: Draft, account: Account) -> Before | None:
    """Return the last reading of a cylinder as the draft sees it."""
    for reading in reversed(draft.readings):
        if reading.account.pk == account.pk:
            return reading
    return ledger.last_weighing(account)


def open_before(cylinder: Cylinder) -> Weighing | None:
    """Return the weighing by which a cylinder still stands on the scale, or None."""
    last = ledger.last_weighing(cylinder.account)
    return last if last is not None and last.is_open else None


def between(before: Before, gross: Gross, difference_mg: int, *, same_session: bool) -> uncertainty.U:
    """Return the standard uncertainty of the difference of two readings of one cylinder, in grams."""
    if before.scale.pk != gross.scale.pk:
        return uncertainty.pair_two_scales(
            of_scale(before.scale, before.step_mg),
            before.gross_mg / 1000,
            of_scale(gross.scale, gross.step_mg),
            gross.gross_mg / 1000,
        )
    pair = uncertainty.pair_one_session if same_session else uncertainty.pair_two_sessions
    return pair(of_scale(gross.scale, max(before.step_mg, gross.step_mg)), abs(difference_mg) / 1000)


def settle(draft: Draft, gross: Gross, role: str) -> Settled:
    """Write a reading that stands by itself (before, check, single) and post its difference to the book."""
    _check_here(draft, gross)
    before = before_of(draft, gross.account)
    _check_order(draft, gross, before)
    net_mg = _net_mg(gross)
    difference_mg = net_mg - content_or_last(draft, gross.cylinder)[2]
    can_tell = can_tell_mg(gross, before, difference_mg)
    read(draft, gross, role)
    if difference_mg:
        _post_difference(draft, gross, difference_mg, before)
    return Settled(net_mg, difference_mg, can_tell)


def optional_before(draft: Draft, before: Gross | None) -> Settled | None:
    """Write the reading before an act, where the act brings it along."""
    return settle(draft, before, Weighing.BEFORE) if before is not None else None


def _post_difference(draft: Draft, gross: Gross, difference_mg: int, before: Before | None = None) -> None:
    """Post what a reading has more than the book (below zero: less) from or to *unexplained*.

    `before` is the reading that it is compared with; None compares it with the empty mass.
    """
    u, _ = _of_difference(gross, before, difference_mg)
    code, grade, _ = content_or_last(draft, gross.cylinder)
    source, target = draft.account(causes.UNEXPLAINED), gross.account
    if difference_mg < 0:
        source, target = target, source
    content, tell = (code, grade, abs(difference_mg)), can_tell_mg(gross, before, difference_mg)
    draft.move(Line("weighing-difference", source, target, *content, "pair", *parts_mg(u), gross.scale, tell))


def can_tell_mg(gross: Gross, before: Before | None, difference_mg: int) -> int:
    """Return the difference to the book above which a reading is said to disagree with the one before, in mg."""
    u, first_step_g = _of_difference(gross, before, difference_mg)
    return round(uncertainty.can_tell(u.total_g, first_step_g, gross.step_mg / 1000) * 1000)


def passed(draft: Draft, gross: Gross) -> tuple[int, uncertainty.U]:
    """Write the second reading of a pair; return what the cylinder gained (negative: gave), in mg, and its u in grams.

    The first reading is in this draft or stands open as the cylinder's last. What passed is the difference of the two
    readings, also where one lay a little below the empty mass and was counted as nothing: what the empty mass was
    wrong by then goes to or comes from *unexplained*. Raises NoFirstReading, BelowTare, NotHere.
    """
    _check_here(draft, gross)
    before = before_of(draft, gross.account)
    if before is None or not before.is_open:
        raise NoFirstReading(f"{gross.cylinder} was not weighed before. Enter the reading before as well.")
    _check_order(draft, gross, before)
    content = draft.content(gross.account)
    uncounted_mg = _below_mg(gross, gross.gross_mg) - (0 if content else _below_mg(gross, before.gross_mg))
    gained_mg = _net_mg(gross) - (content[2] if content else 0) - uncounted_mg
    u = between(before, gross, gained_mg, same_session=not gross.restarted)
    read(draft, gross, Weighing.AFTER)
    if uncounted_mg > 0 > gained_mg:
        _post_difference(draft, gross, uncounted_mg)  # first: what is to leave has to be there
    elif gained_mg > 0 > uncounted_mg:
        draft.at_last(lambda: _post_difference(draft, gross, uncounted_mg))
    return gained_mg, u


def _below_mg(gross: Gross, reading_mg: int) -> int:
    """Return by how much a reading lies below the empty mass of the cylinder, in milligrams; nothing where above."""
    return max(gross.cylinder.tare_mg - reading_mg, 0)


def single_net(draft: Draft, gross: Gross) -> tuple[int, uncertainty.U]:
    """Write one reading by which a first or returned content is known; return net milligrams and its u in grams."""
    before = before_of(draft, gross.account)
    _check_order(draft, gross, before)
    net_mg = _net_mg(gross)
    read(draft, gross, Weighing.SINGLE)
    return net_mg, single_u(gross)


def single_u(gross: Gross) -> uncertainty.U:
    """Return the standard uncertainty of gross less tare, in grams."""
    scale = of_scale(gross.scale, gross.step_mg)
    return uncertainty.single(scale, gross.gross_mg / 1000, gross.cylinder.tare_u_mg / 1000)


def move_all(draft: Draft, gross: Gross, cause: str, source: Account, target: Account, content: Content) -> None:
    """Move all that a cylinder holds into or out of it, known by one reading."""
    draft.move(Line(cause, source, target, *content, "single", *parts_mg(single_u(gross)), scale=gross.scale))


def parts_mg(u: uncertainty.U) -> tuple[int, int]:
    """Return the two parts of a standard uncertainty in whole milligrams."""
    return round(u.random_g * 1000), round(u.span_g * 1000)


def content_or_last(draft: Draft, cylinder: Cylinder) -> Content:
    """Return (refrigerant, grade, milligrams) of a cylinder; where it is empty, what was last in it or is meant."""
    if (content := draft.content(cylinder.account)) is not None:
        return content
    last = (
        Movement.objects.filter(source=cylinder.account).order_by("-id").first()
        or Movement.objects.filter(target=cylinder.account).order_by("-id").first()
    )
    if last is not None and last.refrigerant == cylinder.refrigerant:
        return last.refrigerant, last.grade, 0
    return cylinder.refrigerant, cylinder.grade, 0


def _net_mg(gross: Gross) -> int:
    """Return gross less tare; a little below nothing counts as nothing, more is refused."""
    if (sentence := below_tare(gross)) is not None:
        raise BelowTare(sentence)
    return max(gross.gross_mg - gross.cylinder.tare_mg, 0)


def below_tare(gross: Gross) -> str | None:
    """Return why a reading is lighter than the empty cylinder can be, or None."""
    cylinder, step = gross.cylinder, gross.scale.step
    missing_mg = cylinder.tare_mg - gross.gross_mg
    if missing_mg <= 2000 * single_u(gross).total_g:
        return None
    return (
        f"{gross.said} gross is {in_book(missing_mg, step.unit)} less than the empty mass of {cylinder} "
        f"({in_book(cylinder.tare_mg, step.unit)}). Read the scale again, or correct the tare."
    )


def _of_difference(gross: Gross, before: Before | None, difference_mg: int) -> tuple[uncertainty.U, float]:
    """Return the uncertainty of a difference to the book and the step of the reading it rests on, in grams."""
    if before is None:
        tare_u_g = gross.cylinder.tare_u_mg / 1000
        return uncertainty.single(of_scale(gross.scale, gross.step_mg), gross.gross_mg / 1000, tare_u_g), 0.0
    return between(before, gross, difference_mg, same_session=isinstance(before, Reading)), before.step_mg / 1000


def _check_here(draft: Draft, gross: Gross) -> None:
    """Read the cylinder again, now that the book is locked, and refuse a reading of one that is not on the shelf."""
    cylinder = gross.cylinder
    cylinder.refresh_from_db(fields=["state", "tare_mg", "tare_u_mg", "tare_source"])
    if cylinder.is_gone:
        raise NotHere(
            f"By the book {cylinder} is {cylinder.state}. Enter first that it came back or turned up: "
            "its reading is part of that."
        )
    _give_tare(draft, gross)


def _give_tare(draft: Draft, gross: Gross) -> None:
    """Reckon the empty mass that a cylinder lacks by its first reading; a version of it stands once the entry does."""
    cylinder, content = gross.cylinder, draft.content(gross.account)
    if not cylinder.lacks_tare or content is None:
        return
    given = next((one for one in draft.readings if one.account.pk == gross.account.pk), None)
    found = by_paper(cylinder, gross.scale, gross.gross_mg if given is None else given.gross_mg, content[2])
    if given is not None:  # the reading before, of this same entry, has settled it
        found = replace(found, tare_mg=given.tare_mg)
    if (sentence := emptymass.cannot(found, content[2], gross.scale.step.unit)) is not None:
        raise BelowTare(sentence)
    found.give_to(cylinder)
    if given is None:
        draft.then(lambda _: _keep_tare(cylinder, found, draft))


def by_paper(cylinder: Cylinder, scale: Scale, gross_mg: int, held_mg: int) -> emptymass.Reckoned:
    """Return the empty mass of a cylinder that came by a paper, from a reading of it with `held_mg` in it."""
    return emptymass.reckoned(of_scale(scale), gross_mg, held_mg, int(cylinder.paper_mass_mg or held_mg))


def _keep_tare(cylinder: Cylinder, found: emptymass.Reckoned, draft: Draft) -> None:
    found.give_to(cylinder)
    emptymass.keep(cylinder, draft.occurred_at)


def _check_order(draft: Draft, gross: Gross, before: Before | None) -> None:
    if isinstance(before, Weighing) and draft.occurred_at < before.entry.occurred_at:
        raise WrongTime(
            f"{gross.cylinder} was weighed later than that already (line {before.entry.seq}). "
            "An older reading that was wrong is put right from that line."
        )


def reading_u_g(gross: Gross) -> float:
    """Return the standard uncertainty of one reading by itself (step and zero), in grams."""
    scale = replace(of_scale(gross.scale, gross.step_mg), span=0.0)
    return uncertainty.single(scale, gross.gross_mg / 1000, 0.0).random_g


def read(draft: Draft, gross: Gross, role: str) -> None:
    """Write a reading into the draft, with the tare of the cylinder as it is now."""
    draft.read(
        Reading(
            account=gross.account,
            role=role,
            gross_mg=gross.gross_mg,
            tare_mg=gross.cylinder.tare_mg,
            u_mg=round(reading_u_g(gross) * 1000),
            scale=gross.scale,
            typed=gross.typed[:60],
            raw=gross.raw,
            sent_step_mg=gross.step_mg,
        )
    )
