"""A day of the book as ruled lines: time in the margin, what happened, what came in, went out and was held.

A line is one movement that touches stock, or one weighing that agreed. What a cylinder then held is reckoned from the
movements up to that line, so that an old day shows what was held on it. The number of queries does not depend on how
many lines a day has.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from itertools import groupby

from django.db.models import Prefetch, Q, QuerySet, Sum
from django.utils import timezone

from inventory import causes
from inventory.causes import CAUSES
from inventory.measure.own import Units
from inventory.models import Account, Book, Entry, Holding, Movement, Weighing
from inventory.shelf.lines import dropped_line

KILOGRAMS = Units()
MOST_LINES = 200
LATE_SHOWN, LATE_AMONG = 10, 50  # late lines, looked for among the last
RECENT = 5_000  # lines back from the last one
DAYS_SHOWN, LAST_SHOWN = 3, 12  # days before one without lines, and their lines in all
SERVING = ("found-in-vehicle",)  # written by the tool beside another line


@dataclass(frozen=True)
class DayLine:
    """One ruled line; masses in milligrams, None where the line has none. `first` begins a new entry."""

    entry: Entry
    first: bool
    words: str
    more: str = ""
    in_mg: int | None = None
    out_mg: int | None = None
    held_mg: int | None = None

    @property
    def reversed_by(self) -> int | None:
        """The number of the line that reversed its entry."""
        reversal = getattr(self.entry, "reversal", None)
        return reversal.seq if reversal else None

    @property
    def visit(self) -> int | None:
        """The number of the visit that its entry belongs to."""
        kind, _, number = self.entry.context.partition(":")
        return int(number) if kind == "visit" and number.isdigit() else None

    @property
    def occurred_at(self) -> datetime:
        """When it happened."""
        return self.entry.occurred_at


def lines_of(book: Book, day: date, units: Units = KILOGRAMS) -> tuple[list[DayLine], bool]:
    """Return the lines that count for `day`, latest first, and whether there are more than are shown."""
    found = _with_lines(Entry.objects.filter(book=book, booked_on=day)).order_by("-occurred_at", "-seq")
    entries = list(found[: MOST_LINES + 1])
    return _lines(book, entries[:MOST_LINES], units), len(entries) > MOST_LINES


def last_days(book: Book, day: date, units: Units = KILOGRAMS) -> list[tuple[date, list[DayLine]]]:
    """Return the last days before `day` that have lines, with their last lines, the newest first."""
    earlier = Entry.objects.filter(book=book, booked_on__lt=day).order_by("-booked_on")
    days = list(earlier.values_list("booked_on", flat=True).distinct()[:DAYS_SHOWN])
    found = _with_lines(Entry.objects.filter(book=book, booked_on__in=days))
    entries = list(found.order_by("-booked_on", "-occurred_at", "-seq")[:LAST_SHOWN])
    lines = groupby(_lines(book, entries, units), key=lambda line: line.entry.booked_on)
    return [(one, list(its)) for one, its in lines]


def late_lines(book: Book, day: date, units: Units = KILOGRAMS) -> list[DayLine]:
    """Return the last lines that were written on `day` but count for an earlier one."""
    latest = Entry.objects.filter(book=book).order_by("-seq").values_list("pk", "recorded_at", "booked_on")[:LATE_AMONG]
    late = [pk for pk, at, counts_on in latest if counts_on != day == timezone.localtime(at).date()][:LATE_SHOWN]
    return _lines(book, list(_with_lines(Entry.objects.filter(pk__in=late)).order_by("-seq")), units) if late else []


def day_before(book: Book, day: date) -> date | None:
    """Return the last day before `day` that has lines, or None."""
    return _neighbour(book, Q(booked_on__lt=day), "-booked_on")


def day_after(book: Book, day: date) -> date | None:
    """Return the next day after `day` that has lines, or None."""
    return _neighbour(book, Q(booked_on__gt=day), "booked_on")


def _neighbour(book: Book, which: Q, order: str) -> date | None:
    return Entry.objects.filter(which, book=book).order_by(order).values_list("booked_on", flat=True).first()


def _with_lines(entries: QuerySet[Entry]) -> QuerySet[Entry]:
    return entries.select_related("reversal", "reverses").prefetch_related(
        Prefetch("movements", Movement.objects.select_related("source", "target").order_by("line")),
        Prefetch("weighings", Weighing.objects.select_related("account", "scale").order_by("line")),
        "remarks",
    )


def _lines(book: Book, entries: Sequence[Entry], units: Units) -> list[DayLine]:
    held, named = _Held(book, entries), _cylinders_named(book, entries)
    return [line for entry in entries for line in _entry_lines(entry, held, named, units)]


def _cylinders_named(book: Book, entries: Sequence[Entry]) -> dict[str, str]:
    """Return the labels of the cylinders that entries without any line of their own are about, by context."""
    bare = [one.context for one in entries if one.context.startswith("cylinder:") and not one.movements.all()]
    numbers = [int(context.removeprefix("cylinder:")) for context in bare]
    accounts = Account.objects.filter(book=book, number__in=numbers) if numbers else ()
    return {f"cylinder:{account.number}": str(account) for account in accounts}


def _entry_lines(entry: Entry, held: "_Held", named: Mapping[str, str], units: Units) -> list[DayLine]:
    """Return the lines of one entry: its movements of stock, else its weighings, else the entry by itself."""
    shown = [one for one in entry.movements.all() if one.cause not in SERVING]
    if len(shown) > 1:  # a difference that agreed is said with the line it came with
        shown = [one for one in shown if not _agrees(one)] or shown[:1]
    lines = [_movement_line(entry, one, held, units, first=place == 0) for place, one in enumerate(shown)]
    if not lines and entry.weighings.all():
        lines = [_weighing_line(entry, one, held, first=place == 0) for place, one in enumerate(entry.weighings.all())]
    return lines or [DayLine(entry, True, _entry_words(entry, named))]


def _agrees(movement: Movement) -> bool:
    return movement.cause == "weighing-difference" and abs(movement.mass_mg) <= movement.can_tell_mg


def _movement_line(entry: Entry, movement: Movement, held: "_Held", units: Units, *, first: bool) -> DayLine:
    into = movement.target.kind in causes.STOCK_KINDS
    out = movement.source.kind in causes.STOCK_KINDS
    cylinder = movement.target if into else movement.source if out else None
    mass_mg = int(movement.mass_mg)
    words, more = _movement_words(entry, movement, units)
    return DayLine(
        entry,
        first,
        words,
        more,
        in_mg=mass_mg if into else None,
        out_mg=mass_mg if out else None,
        held_mg=held.after(cylinder, entry) if cylinder else None,
    )


def _movement_words(entry: Entry, movement: Movement, units: Units) -> tuple[str, str]:
    more = f"{movement.refrigerant} {movement.grade}"
    if movement.cause == "weighing-difference":
        less = movement.source.kind == causes.CYLINDER
        mass = units.small_mass_said(abs(int(movement.mass_mg)))
        told = "agrees" if _agrees(movement) else "unexplained"
        cylinder = movement.source if less else movement.target
        words = f"{cylinder}, {mass} {'less' if less else 'more'} than the book: {told}"
    else:
        words, more = f"{movement.source} to {movement.target}", f"{CAUSES[movement.cause].words}, {more}"
    return (f"Reversal of line {entry.reverses.seq}: {words}" if entry.reverses else words), more


def _weighing_line(entry: Entry, weighing: Weighing, held: "_Held", *, first: bool) -> DayLine:
    said = {"before": "on the scale, before", "after": "weighed after", "single": "weighed"}
    words = f"{weighing.account} {said.get(weighing.role, 'weighed, agrees')} {weighing.said} gross"
    return DayLine(entry, first, words, f"on {weighing.scale}", held_mg=held.after(weighing.account, entry))


def _entry_words(entry: Entry, named: Mapping[str, str]) -> str:
    if entry.kind == Entry.CLOSE:
        return f"Closed through {entry.context.rpartition(':')[2]}"
    if entry.reverses:
        return f"Reversal of line {entry.reverses.seq}"
    if entry.kind == Entry.SEAL and (dropped := dropped_line(entry.context)) is not None:
        return f"The reading before of line {dropped} dropped"
    if entry.kind == Entry.SEAL:
        what = entry.context.removeprefix("photo:").partition("/")[0].replace(":", " ")
        return f"A photo sealed, for {what}" if entry.context.startswith("photo:") else f"Sealed {what}".rstrip()
    if entry.context in named:
        return f"{named[entry.context]} came empty"
    if entry.context.startswith("visit:"):
        return "Nothing moved"
    return f"Line {entry.seq}"


class _Held:
    """What the cylinders of some entries held after each of them: one sum, walked back line by line."""

    def __init__(self, book: Book, entries: Sequence[Entry]) -> None:
        self.after_entry: dict[tuple[int, int], int] = {}
        accounts = {one.pk for one in _stock(entries)}
        if not accounts:
            return
        first, last = min(entry.seq for entry in entries), max(entry.seq for entry in entries)
        later = Entry.objects.filter(book=book, seq__gt=first)
        if book.head_seq - first <= RECENT:  # of a recent day what is held now is walked back
            balance, which = _held_now(accounts), Q(entry__in=later.values("pk"))
        else:
            balance = _balances(accounts, last)
            which = Q(entry__in=later.filter(seq__lte=last).values("pk"))
            which &= Q(source__in=accounts) | Q(target__in=accounts)
        moves = (
            Movement.objects.filter(which)
            .order_by("-entry__seq")
            .values_list("entry__seq", "source_id", "target_id", "mass_mg")
        )
        walk = iter([*moves, None])
        move = next(walk)
        for entry in sorted(entries, key=lambda one: -one.seq):
            while move is not None and move[0] > entry.seq:
                _, source, target, mass_mg = move
                if source in balance:
                    balance[source] += int(mass_mg)
                if target in balance:
                    balance[target] -= int(mass_mg)
                move = next(walk)
            self.after_entry.update({(entry.seq, pk): mass for pk, mass in balance.items()})

    def after(self, account: Account, entry: Entry) -> int | None:
        """Return what `account` held once `entry` stood."""
        return self.after_entry.get((entry.seq, account.pk))


def _stock(entries: Iterable[Entry]) -> Iterable[Account]:
    for entry in entries:
        for movement in entry.movements.all():
            yield from (end for end in (movement.source, movement.target) if end.kind in causes.STOCK_KINDS)
        yield from (weighing.account for weighing in entry.weighings.all())


def _held_now(accounts: set[int]) -> dict[int, int]:
    """Return what accounts hold."""
    rows = Holding.objects.filter(account__in=accounts).values_list("account").annotate(mass=Sum("mass_mg"))
    return dict.fromkeys(accounts, 0) | {account: int(mass) for account, mass in rows}


def _balances(accounts: set[int], last_seq: int) -> dict[int, int]:
    """Return what accounts held once line `last_seq` stood."""
    balance = dict.fromkeys(accounts, 0)
    for end, sign in (("target", 1), ("source", -1)):
        rows = (
            Movement.objects.filter(**{f"{end}__in": accounts}, entry__seq__lte=last_seq)
            .values(end)
            .annotate(mass=Sum("mass_mg"))
        )
        for row in rows:
            balance[row[end]] += sign * int(row["mass"])
    return balance
