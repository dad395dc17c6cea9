"""The one door to the mass book: lock, look, check, number, digest, write.

An **act** is what a person asks for, once per request key. `write` takes the book's lock, looks the key up, lets the
caller `build` the lines on a **draft** (which knows what every account holds, the draft's own lines included) and
appends one entry. Nothing here is undone by changing a row; `reverse` writes the answer to a mistake.

LedgerError
    RequestKeyReused    the same key came with another request
    NotEnoughHeld       a cylinder would hold less than nothing
    WouldMix            a cylinder would hold two contents
    WrongLine           a line is not in the closed lists, or names another book
    WrongTime           in the future, or before the cylinder's last weighing
    NotReversible       reversed already, or explained meanwhile
    TooMuchExplained    more would be explained than a difference has left
"""

import hashlib
import json
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field, replace
from datetime import date, datetime, timedelta
from typing import Any
from uuid import UUID, uuid4, uuid5
from zoneinfo import ZoneInfo

from django.db import transaction
from django.db.models import Max
from django.utils import timezone

from inventory import causes
from inventory.book.differences import into_unexplained_mg, open_mg
from inventory.gases.catalogue import UnknownRefrigerant, refrigerant
from inventory.models import Account, Book, Entry, Holding, Movement, Remark, Scale, Weighing

VERSION = "tarebook-1"
CLOSED = "closed:"  # with the day behind it, the context of an entry that closes the book
FUTURE_TOLERANCE = timedelta(minutes=5)
FIRST_YEAR = 1970  # the digest counts milliseconds from there
LARGEST_MG = 10**12  # a thousand tonnes; more is a slip, and would overflow a sum before long

Content = tuple[str, str]  # refrigerant, grade


class LedgerError(Exception):
    """An act that the book refuses; the text is a sentence for the person."""


class RequestKeyReused(LedgerError):
    """The same form was used for two different requests."""


class NotEnoughHeld(LedgerError):
    """More would leave a cylinder than it holds."""


class WouldMix(LedgerError):
    """Two refrigerants or grades would stand in one cylinder."""


class WrongLine(LedgerError):
    """A movement outside the closed lists."""


class WrongTime(LedgerError):
    """A time that cannot be."""


class NotReversible(LedgerError):
    """An entry that cannot be reversed, or not any more."""


class TooMuchExplained(LedgerError):
    """More would be explained than is left of a difference."""


@dataclass(frozen=True)
class Act:
    """What a person asks for: `content` is the whole request as received, before anything is computed from it."""

    key: UUID
    actor: str
    occurred_at: datetime
    content: Mapping[str, Any]
    context: str = ""
    remark: str = ""

    def derived(self, what: str, **content: Any) -> "Act":
        """Return the act of a further entry that the same request writes, with a key of its own."""
        return replace(self, key=uuid5(self.key, what), content={**self.content, "part": what, **content})

    @property
    def digest(self) -> str:
        """The SHA-256 of the request."""
        return _sha256([self.actor, self.context, self.remark, self.content])


@dataclass(frozen=True)
class Line:
    """One movement to be written; masses and standard uncertainties in milligrams."""

    cause: str
    source: Account
    target: Account
    refrigerant: str
    grade: str
    mass_mg: int
    basis: str
    u_random_mg: int = 0
    u_span_mg: int = 0
    scale: Scale | None = None
    can_tell_mg: int = 0
    explains: Movement | None = None
    reversal: bool = False


@dataclass(frozen=True)
class Reading:
    """One weighing to be written; masses in milligrams."""

    account: Account
    role: str
    gross_mg: int
    tare_mg: int
    u_mg: int
    scale: Scale
    typed: str

    @property
    def net_mg(self) -> int:
        """Gross less tare."""
        return self.gross_mg - self.tare_mg


class Balances:
    """What accounts hold, read once each and carried along line by line under the book's lock."""

    def __init__(self) -> None:
        self._held: dict[int, dict[Content, int]] = {}
        self._accounts: dict[int, Account] = {}
        self._rows: set[tuple[int, Content]] = set()
        self._touched: set[tuple[int, Content]] = set()

    def of(self, account: Account) -> dict[Content, int]:
        """Return the masses an account holds by (refrigerant, grade), in milligrams, without empty ones."""
        return {content: mass for content, mass in self._load(account).items() if mass}

    def together(self, account: Account) -> dict[Content, int]:
        """Return what an account holds together with those that are joined to it."""
        held: dict[Content, int] = {}
        for one in (account, *account.joined.all()):
            for content, mass in self._load(one).items():
                held[content] = held.get(content, 0) + mass
        return {content: mass for content, mass in held.items() if mass}

    def preload(self, accounts: Iterable[Account]) -> None:
        """Read what many accounts hold with one query."""
        fresh = {account.pk: account for account in accounts if account.pk not in self._held}
        self._accounts.update(fresh)
        self._held.update({pk: {} for pk in fresh})
        for row in Holding.objects.filter(account__in=fresh):
            self._held[row.account_id][row.refrigerant, row.grade] = int(row.mass_mg)
            self._rows.add((row.account_id, (row.refrigerant, row.grade)))

    def _load(self, account: Account) -> dict[Content, int]:
        if account.pk not in self._held:
            rows = Holding.objects.filter(account=account).values_list("refrigerant", "grade", "mass_mg")
            self._held[account.pk] = {(code, grade): int(mass) for code, grade, mass in rows}
            self._rows.update((account.pk, content) for content in self._held[account.pk])
            self._accounts[account.pk] = account
        return self._held[account.pk]

    def apply(self, line: Line) -> None:
        """Carry one line into both ends; raises NotEnoughHeld or WouldMix for stock."""
        self._add(line.source, line, -line.mass_mg)
        self._add(line.target, line, line.mass_mg)

    def _add(self, account: Account, line: Line, mass_mg: int) -> None:
        stock = account.kind in causes.STOCK_KINDS
        content = (line.refrigerant, line.grade if stock else "")
        held = self._load(account)
        mass = held.get(content, 0) + mass_mg
        if stock and mass < 0:
            has = ", ".join(f"{m / 1_000_000:.3f} kg {c} {g}" for (c, g), m in self.of(account).items()) or "nothing"
            raise NotEnoughHeld(
                f"{account} holds {has}; {-mass_mg / 1_000_000:.3f} kg {line.refrigerant} {line.grade} cannot leave it."
            )
        if stock and mass and any(m for other, m in held.items() if other != content):
            code, grade = next(other for other, m in held.items() if other != content and m)
            raise WouldMix(
                f"{account} holds {code} {grade}; {line.refrigerant} {line.grade} would be mixed into it. "
                "Use another cylinder, or one marked suspect."
            )
        held[content] = mass
        self._touched.add((account.pk, content))

    def total(self, account: Account) -> int:
        """Return the mass of an account over all refrigerants, in milligrams."""
        return sum(self._load(account).values())

    def forget(self, account: Account) -> None:
        """Let an account hold nothing, where what is being read will not be written anyway."""
        self._held[account.pk] = {}

    def save(self) -> None:
        """Write the changed holdings: what became empty first, so that the content of a cylinder may change."""
        for pk, content in sorted(self._touched, key=lambda key: bool(self._held[key[0]][key[1]])):
            code, grade = content
            mass = self._held[pk][content]
            if (pk, content) in self._rows:
                Holding.objects.filter(account_id=pk, refrigerant=code, grade=grade).update(mass_mg=mass)
            else:
                stock = self._accounts[pk].kind in causes.STOCK_KINDS
                Holding.objects.create(account_id=pk, refrigerant=code, grade=grade, stock=stock, mass_mg=mass)
                self._rows.add((pk, content))
        self._touched.clear()


@dataclass
class Draft:
    """An entry being built under the lock. `lines` and `readings` are written in their order."""

    book: Book
    occurred_at: datetime
    balances: Balances
    context: str = ""
    lines: list[Line] = field(default_factory=list)
    readings: list[Reading] = field(default_factory=list)
    closing: list[Callable[[], object]] = field(default_factory=list)
    afterwards: list[Callable[[Entry], object]] = field(default_factory=list)
    _single: dict[str, Account] = field(default_factory=dict)

    def account(self, kind: str) -> Account:
        """Return the book's one account of a single kind: air, unexplained, opening, process."""
        if kind not in self._single:
            self._single[kind] = Account.objects.get(book=self.book, kind=kind)
        return self._single[kind]

    def move(self, line: Line) -> Line:
        """Add a movement; it counts at once for what follows. Raises LedgerError."""
        check_line(self.book, line)
        self._check_explanation(line)
        self.balances.apply(line)
        self.lines.append(line)
        return line

    def read(self, reading: Reading) -> Reading:
        """Add a weighing. Raises WrongLine."""
        check_reading(self.book, reading)
        self.readings.append(reading)
        return reading

    def _check_explanation(self, line: Line) -> None:
        """Refuse to explain more than is left of a difference, or in the other direction."""
        difference = line.explains
        if difference is None or line.reversal or line.cause not in causes.USES_UP:
            return
        left = open_mg(difference) + sum(into_unexplained_mg(own) for own in self.lines if own.explains == difference)
        after = left + into_unexplained_mg(line)
        if abs(after) >= abs(left) or after * left < 0:
            raise TooMuchExplained(
                f"{line.mass_mg / 1_000_000:.3f} kg cannot be explained: {abs(left) / 1_000_000:.3f} kg of this "
                "difference is open."
            )

    def content(self, account: Account) -> tuple[str, str, int] | None:
        """Return (refrigerant, grade, milligrams) of a cylinder as the book has it now; None where empty."""
        for (code, grade), mass in self.balances.of(account).items():
            return code, grade, mass
        return None

    def at_last(self, add: Callable[[], object]) -> None:
        """Run `add` when the act has added its own lines, before the entry is written."""
        self.closing.append(add)

    def then(self, write: Callable[[Entry], object]) -> None:
        """Run `write` with the entry once it stands, in the same transaction."""
        self.afterwards.append(write)


Build = Callable[[Draft], object]  # what it returns is not looked at


def open_book(name: str, zone: str, uid: UUID | None = None) -> Book:
    """Create a book with its single accounts (air, unexplained, opening, process)."""
    with transaction.atomic():
        book = Book.objects.create(name=name, zone=zone, uid=uid or uuid4())
        for number, kind in enumerate(causes.SINGLE_KINDS, start=1):
            Account.objects.create(book=book, number=number, kind=kind, label=kind)
    return book


def open_account(book: Book, kind: str, label: str) -> Account:
    """Give the book a further account; its number is the next one."""
    with transaction.atomic():
        lock(book)
        last = Account.objects.filter(book=book).aggregate(last=Max("number"))["last"] or 0
        return Account.objects.create(book=book, number=last + 1, kind=kind, label=label)


def open_scale(book: Book, **fields: Any) -> Scale:
    """Give the book a further scale with the next number."""
    with transaction.atomic():
        lock(book)
        last = Scale.objects.filter(book=book).aggregate(last=Max("number"))["last"] or 0
        return Scale.objects.create(book=book, number=last + 1, **fields)


def lock(book: Book) -> Book:
    """Return the book's row, locked until the transaction ends (on SQLite the transaction itself is the lock)."""
    return Book.objects.select_for_update().get(pk=book.pk)


def write(book: Book, act: Act, build: Build, *, kind: str = Entry.POST, seals: str = "") -> Entry:
    """Write one act as one entry and return it; the same key with the same request returns the one already there.

    Runs in a transaction of its own, or joins the one that the calling act has opened. Raises LedgerError.
    """
    with transaction.atomic():
        return write_locked(lock(book), act, build, kind=kind, seals=seals)


def write_locked(
    book: Book,
    act: Act,
    build: Build,
    *,
    kind: str = Entry.POST,
    seals: str = "",
    reverses: Entry | None = None,
    balances: Balances | None = None,
) -> Entry:
    """Write one act into a book whose row is locked already."""
    if (known := Entry.objects.filter(book=book, request_key=act.key).first()) is not None:
        if known.request_digest != act.digest or known.kind != kind:
            raise RequestKeyReused(f"This form was already used for line {known.seq}, with other figures.")
        return known
    occurred_at, recorded_at = moments(act.occurred_at)
    draft = Draft(book, occurred_at, balances or Balances(), act.context)
    build(draft)
    for add in draft.closing:
        add()
    if draft.balances.total(draft.account(causes.PROCESS)) != 0:
        raise WrongLine("What went into the process did not all come out of it.")
    entry = Entry(
        book=book,
        seq=book.head_seq + 1,
        kind=kind,
        occurred_at=occurred_at,
        recorded_at=recorded_at,
        booked_on=booked_day(book, occurred_at, recorded_at),
        actor=act.actor,
        context=draft.context,
        request_key=act.key,
        request_digest=act.digest,
        reverses=reverses,
        seals=seals,
    )
    append(book, entry, draft)
    if act.remark:
        Remark.objects.create(entry=entry, text=act.remark)
    for afterwards in draft.afterwards:
        afterwards(entry)
    return entry


def append(book: Book, entry: Entry, draft: Draft) -> None:
    """Digest and insert a built entry with its lines, carry the holdings and move the head of the chain."""
    movements = [movement_row(entry, number, line) for number, line in enumerate(draft.lines, start=1)]
    weighings = [weighing_row(entry, number, reading) for number, reading in enumerate(draft.readings, start=1)]
    reversed_seq = entry.reverses.seq if entry.reverses else 0
    entry.digest = entry_digest(book, book.head_digest, entry, reversed_seq, movements, weighings)
    entry.save(force_insert=True)
    Movement.objects.bulk_create(movements)
    Weighing.objects.bulk_create(weighings)
    draft.balances.save()
    book.head_seq, book.head_digest = entry.seq, entry.digest
    book.save(update_fields=["head_seq", "head_digest"])


def movement_row(entry: Entry, number: int, line: Line) -> Movement:
    """Return the unsaved row of a line."""
    return Movement(
        entry=entry,
        line=number,
        book=entry.book,
        booked_on=entry.booked_on,
        cause=line.cause,
        basis=line.basis,
        source=line.source,
        target=line.target,
        refrigerant=line.refrigerant,
        grade=line.grade,
        mass_mg=line.mass_mg,
        u_random_mg=line.u_random_mg,
        u_span_mg=line.u_span_mg,
        scale=line.scale,
        can_tell_mg=line.can_tell_mg,
        reversal=line.reversal,
        explains=line.explains,
    )


def weighing_row(entry: Entry, number: int, reading: Reading) -> Weighing:
    """Return the unsaved row of a reading."""
    return Weighing(
        entry=entry,
        line=number,
        account=reading.account,
        role=reading.role,
        gross_mg=reading.gross_mg,
        tare_mg=reading.tare_mg,
        u_mg=reading.u_mg,
        step_mg=reading.scale.step_mg,
        scale=reading.scale,
        typed=reading.typed,
    )


def moments(occurred_at: datetime) -> tuple[datetime, datetime]:
    """Return when it happened and when it is written, both in whole milliseconds.

    Raises WrongTime more than five minutes ahead of now, and before 1970.
    """
    recorded_at = _whole_ms(timezone.now())
    if occurred_at.year < FIRST_YEAR:
        raise WrongTime(f"The year {occurred_at.year} is too long ago; give the time at which it happened.")
    occurred_at = _whole_ms(occurred_at)
    if occurred_at > recorded_at + FUTURE_TOLERANCE:
        raise WrongTime(f"{occurred_at:%Y-%m-%d %H:%M} UTC has not come yet; give the time at which it happened.")
    return occurred_at, recorded_at


def booked_day(book: Book, occurred_at: datetime, recorded_at: datetime) -> date:
    """Return the workshop's day that counts: the day it happened or, where that is closed, today.

    Raises WrongTime where today itself is closed: then the clock has been put back.
    """
    zone = ZoneInfo(book.zone)
    day, today = occurred_at.astimezone(zone).date(), recorded_at.astimezone(zone).date()
    if book.closed_through is None or day > book.closed_through:
        return day
    if today <= book.closed_through:
        raise WrongTime(f"It is {today} by this clock, and the book is closed through {book.closed_through}.")
    return today


def check_line(book: Book, line: Line, *, from_paper: bool = False) -> None:
    """Raise WrongLine where a movement is outside the closed lists or leaves its book.

    `from_paper`: the line is copied from a year kept elsewhere; for any cause, paper is then what stands behind it.
    """
    cause = causes.CAUSES.get(line.cause)
    if cause is None:
        raise WrongLine(f"{line.cause!r} is not a cause of movements.")
    if line.source.book_id != book.pk or line.target.book_id != book.pk:
        raise WrongLine("A movement stays within its book.")
    if (line.source.kind, line.target.kind) not in cause.routes:
        raise WrongLine(f"{cause.name} does not run from {line.source.kind} to {line.target.kind}.")
    if line.basis not in cause.bases and not (from_paper and line.basis == "paper"):
        raise WrongLine(
            f"{cause.name} cannot stand on the basis {line.basis!r}; it may be {' or '.join(sorted(cause.bases))}."
        )
    if line.grade not in causes.GRADES:
        raise WrongLine(f"{line.grade!r} is not a grade; it may be {', '.join(causes.GRADES)}.")
    if type(line.mass_mg) is not int or (line.mass_mg < 0) != line.reversal or line.mass_mg == 0:
        raise WrongLine("The mass of a movement is a whole number of milligrams, more than nothing.")
    if abs(line.mass_mg) > LARGEST_MG:
        raise WrongLine("No movement is of more than a thousand tonnes.")
    if line.source.pk == line.target.pk:
        raise WrongLine("A movement runs between two accounts.")
    if line.explains is not None and cause.name not in causes.EXPLAINING:
        raise WrongLine(f"{cause.name} explains nothing.")
    if line.explains is not None and line.explains.book_id != book.pk:
        raise WrongLine("A movement explains a difference of its own book.")
    if line.scale is not None and line.scale.book_id != book.pk:
        raise WrongLine("A movement names a scale of its own book.")
    try:
        refrigerant(line.refrigerant)
    except UnknownRefrigerant as error:
        raise WrongLine(str(error)) from error


def check_reading(book: Book, reading: Reading) -> None:
    """Raise WrongLine where a weighing is not of a cylinder and on a scale of the book, or is less than nothing."""
    if reading.account.book_id != book.pk or reading.scale.book_id != book.pk:
        raise WrongLine("A weighing stays within its book.")
    if reading.account.kind != causes.CYLINDER:
        raise WrongLine(f"A {reading.account.kind} is not weighed; a cylinder is.")
    if min(reading.gross_mg, reading.tare_mg) < 0 or max(reading.gross_mg, reading.tare_mg) > LARGEST_MG:
        raise WrongLine("No cylinder weighs less than nothing, or more than a thousand tonnes.")


def reverse(entry: Entry, act: Act) -> Entry:
    """Undo an entry once and whole: last line first, same accounts, negative masses. Raises NotReversible."""
    with transaction.atomic():
        return reverse_locked(lock(entry.book), entry, act)


def reverse_locked(book: Book, entry: Entry, act: Act) -> Entry:
    """Reverse an entry of a book whose row is locked already."""
    act = replace(act, content={**act.content, "reverses": entry.seq})

    def build(draft: Draft) -> None:
        _check_reversible(draft.book, entry)
        for movement in entry.movements.select_related("source", "target", "scale", "explains").order_by("-line"):
            draft.move(
                Line(
                    cause=movement.cause,
                    source=movement.source,
                    target=movement.target,
                    refrigerant=movement.refrigerant,
                    grade=movement.grade,
                    mass_mg=-int(movement.mass_mg),
                    basis=movement.basis,
                    u_random_mg=movement.u_random_mg,
                    u_span_mg=movement.u_span_mg,
                    scale=movement.scale,
                    explains=movement.explains,
                    reversal=True,
                )
            )

    return write_locked(book, act, build, kind=Entry.REVERSE, reverses=entry)


def _check_reversible(book: Book, entry: Entry) -> None:
    if entry.book_id != book.pk:
        raise NotReversible("That line stands in another book.")
    if entry.kind in (Entry.REVERSE, Entry.CLOSE, Entry.SEAL):
        raise NotReversible(f"Line {entry.seq} is a {entry.kind}; it is not reversed.")
    if (reversal := Entry.objects.filter(reverses=entry).first()) is not None:
        raise NotReversible(f"Line {entry.seq} was reversed already, by line {reversal.seq}.")
    explained = Movement.objects.standing().filter(explains__entry=entry).select_related("entry")
    if (explanation := explained.first()) is not None:
        raise NotReversible(
            f"The difference of line {entry.seq} was explained by line {explanation.entry.seq}; reverse that first."
        )


def last_weighing(account: Account) -> Weighing | None:
    """Return the last weighing of a cylinder whose entry was not reversed, or None."""
    return Weighing.objects.standing().filter(account=account).select_related("entry", "scale").order_by("-id").first()


def entry_digest(
    book: Book,
    previous: str,
    entry: Entry,
    reversed_seq: int,
    movements: Iterable[Movement],
    weighings: Iterable[Weighing],
) -> str:
    """Return the SHA-256 that chains an entry to the one before it; integers and strings in fixed order."""
    return _sha256(
        [
            VERSION,
            previous,
            str(book.uid),
            entry.seq,
            entry.kind,
            _ms(entry.occurred_at),
            _ms(entry.recorded_at),
            entry.booked_on.isoformat(),
            entry.actor,
            entry.context,
            str(entry.request_key),
            entry.request_digest,
            reversed_seq,
            entry.seals,
            [_movement_facts(movement) for movement in movements],
            [_weighing_facts(weighing) for weighing in weighings],
        ]
    )


def _movement_facts(row: Movement) -> list[object]:
    explains = row.explains
    return [
        row.line,
        row.cause,
        row.basis,
        row.source.reference,
        row.target.reference,
        row.refrigerant,
        row.grade,
        int(row.mass_mg),
        int(row.u_random_mg),
        int(row.u_span_mg),
        row.scale.number if row.scale else 0,
        int(row.can_tell_mg),
        int(row.reversal),
        f"{explains.entry.seq}:{explains.line}" if explains else "",
    ]


def _weighing_facts(row: Weighing) -> list[object]:
    return [
        row.line,
        row.account.reference,
        row.role,
        int(row.gross_mg),
        int(row.tare_mg),
        int(row.u_mg),
        int(row.step_mg),
        row.scale.number,
        row.typed,
    ]


def _whole_ms(moment: datetime) -> datetime:
    return moment.replace(microsecond=moment.microsecond // 1000 * 1000)


def _ms(moment: datetime) -> int:
    """Milliseconds since 1970, by whole-number arithmetic."""
    since = moment - datetime(1970, 1, 1, tzinfo=ZoneInfo("UTC"))
    return since // timedelta(milliseconds=1)


def _sha256(facts: list[Any]) -> str:
    text = json.dumps(facts, ensure_ascii=True, separators=(",", ":"), sort_keys=True, default=str)
    return hashlib.sha256(text.encode("ascii")).hexdigest()
