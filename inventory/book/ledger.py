"""The one door to the mass book: lock, look, check, number, digest, write.

An **act** is what a person asks for, once per request key. `write` takes the book's lock, looks the key up, lets the
caller `build` the lines on a **draft** (which knows what every account holds, the draft's own lines included) and
appends one entry. Nothing here is undone by changing a row; `reverse` writes the answer to a mistake.
"""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta
from functools import cached_property, wraps
from typing import Any, Concatenate, ParamSpec
from uuid import UUID, uuid4, uuid5
from zoneinfo import ZoneInfo

from django.db import connection, transaction
from django.db.models import Max

from inventory import causes
from inventory.book import clock, rows, totals
from inventory.book.chain import entry_digest, sha256_of
from inventory.book.draft import Build, Draft, Line
from inventory.book.holdings import Balances
from inventory.book.refusals import NotReversible, RequestKeyReused, WrongLine, WrongTime
from inventory.book.rows import Written
from inventory.models import Account, Book, Entry, Movement, Remark, Scale, Weighing

CLOSED = "closed:"  # with the day behind it, the context of an entry that closes the book
FUTURE_TOLERANCE = timedelta(minutes=5)
FIRST_YEAR = 1970  # the digest counts milliseconds from there


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

    @cached_property
    def digest(self) -> str:
        """The SHA-256 of the request."""
        return sha256_of([self.actor, self.context, self.remark, self.content])


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
        return Account.objects.create(book=book, number=_next_number(Account, book), kind=kind, label=label)


def open_scale(book: Book, **fields: Any) -> Scale:
    """Give the book a further scale with the next number."""
    with transaction.atomic():
        return Scale.objects.create(book=book, number=_next_number(Scale, book), **fields)


def _next_number(model: type[Account] | type[Scale], book: Book) -> int:
    lock(book)
    return 1 + (model.objects.filter(book=book).aggregate(last=Max("number"))["last"] or 0)


def lock(book: Book) -> Book:
    """Return the book's row, locked until the transaction ends (on SQLite the transaction itself is the lock)."""
    return rows.lock(book)


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
) -> Entry:
    """Write one act into a book whose row is locked already."""
    if rows.is_known(book, act.key):
        known = Entry.objects.get(book=book, request_key=act.key)
        if known.request_digest != act.digest or known.kind != kind:
            raise RequestKeyReused(f"This form was already used for line {known.seq}, with other figures.")
        return known
    occurred_at, recorded_at = moments(act.occurred_at)
    draft = Draft(book, occurred_at, Balances(), act.context)
    build(draft)
    for add in draft.closing:
        add()
    if draft.leaves_in_process():
        raise WrongLine("What went into the process did not all come out of it.")
    entry = Entry(
        book=book,
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
        traced=book.trace_digest,
    )
    append(book, [Written(entry, [*enumerate(draft.lines, 1)], [*enumerate(draft.readings, 1)])], draft.balances)
    if act.remark:
        Remark.objects.create(entry=entry, text=act.remark)
    for afterwards in draft.afterwards:
        afterwards(entry)
    return entry


def append(book: Book, written: Sequence[Written], balances: Balances) -> None:
    """Number, digest and insert built entries, carry holdings and totals, and move the head of the chain."""
    for one in written:
        one.entry.seq = book.head_seq + 1
        one.entry.digest = entry_digest(book, book.head_digest, one.entry, one.movements, one.weighings)
        book.head_seq, book.head_digest = one.entry.seq, one.entry.digest
    with connection.cursor() as cursor:
        rows.insert(cursor, written)
        balances.save(cursor)
        totals.add(cursor, book, [(one.entry.booked_on, line) for one in written for _, line in one.movements])
        rows.move_head(cursor, book)


def moments(occurred_at: datetime) -> tuple[datetime, datetime]:
    """Return when it happened and when it is written, both in whole milliseconds.

    Raises WrongTime more than five minutes ahead of now, and before 1970.
    """
    recorded_at = _whole_ms(clock.now())
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


P = ParamSpec("P")
Builds = Callable[Concatenate[Draft, P], None]
Writes = Callable[Concatenate[Book, Act, P], Entry]


def one_entry(kind: str = Entry.POST) -> Callable[[Builds[P]], Writes[P]]:
    """Make an act of a function that builds its draft; it takes book and act instead, and returns the entry.

    The transaction is the act's own: what has to stand with other rows calls `ledger.write` within its own one.
    """

    def act_of(build: Builds[P]) -> Writes[P]:
        @wraps(build)
        def written(book: Book, act: Act, /, *args: P.args, **kwargs: P.kwargs) -> Entry:
            with transaction.atomic(durable=True):
                return write_locked(lock(book), act, lambda draft: build(draft, *args, **kwargs), kind=kind)

        return written

    return act_of


def reverse_locked(book: Book, entry: Entry, act: Act) -> Entry:
    """Undo an entry once and whole: last line first, same accounts, negative masses; the book's row is locked already.

    Raises NotReversible.
    """
    act = replace(act, content={**act.content, "reverses": entry.seq})

    def build(draft: Draft) -> None:
        _check_reversible(draft.book, entry)
        for movement in entry.movements.select_related("source", "target", "scale", "explains").order_by("-line"):
            line = Line.of(movement)
            draft.move(replace(line, mass_mg=-line.mass_mg, can_tell_mg=0, reversal=True))

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
    return (
        Weighing.objects.standing()
        .filter(account=account)
        .select_related("entry", "scale", "begun")
        .order_by("-id")
        .first()
    )


def _whole_ms(moment: datetime) -> datetime:
    return moment.replace(microsecond=moment.microsecond // 1000 * 1000)
