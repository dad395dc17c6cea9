"""A year kept elsewhere, from a CSV file into the book: all of it or nothing, and twice adds nothing.

The file is read once, row by row, into a temporary table that sorts by time, so that memory does not grow with it;
then one transaction writes the entries in the order in which they happened, with digests and holdings as `ledger`
makes them. Every row that cannot be read or that the book refuses is a `Fault` with its line number. Rows are written
as given: no found-in-vehicle lines are added, so a vehicle's balance may stand below zero.

A row is one entry. Rows that follow each other in time with the same `key`, or that lead through *process* and out of
it again at one time by one person, are one entry together. What stands behind an imported line is paper unless it
says otherwise.
"""

import csv
import json
import sqlite3
import tempfile
from collections.abc import Callable, Iterable, Iterator, Mapping
from contextlib import closing
from dataclasses import dataclass
from datetime import UTC, date, datetime, time
from pathlib import Path
from typing import Any, NamedTuple
from uuid import UUID, uuid5
from zoneinfo import ZoneInfo

from django.db import transaction
from django.db.models import Max
from django.utils import timezone

from inventory import causes
from inventory.book import ledger
from inventory.book.ledger import Act, Balances, LedgerError, Line
from inventory.gases.catalogue import UnknownRefrigerant, find
from inventory.measure.marks import mark
from inventory.measure.quantities import QuantityError, read_mass
from inventory.models import Account, Book, Cylinder, Entry, Movement, Partner, Remark, Tare
from inventory.models.access import TECHNICIAN
from shop.models import Membership, User, Vehicle, Workshop

REQUIRED = (
    "occurred_at",
    "cause",
    "refrigerant",
    "grade",
    "from_kind",
    "from_name",
    "to_kind",
    "to_name",
    "mass",
    "person",
    "note",
)
OPTIONAL = ("key", "basis")
KEPT_FAULTS = 1_000
BATCH = 1_000
LONGEST = {"cylinder": 60, "vehicle": 20, "partner": 120, "rig": 120}
SUPPLIED_BY = {"purchase": "supplier", "returned-reclaimed": "reclaimer", "customer-gas-in": "customer"}
PAPER_LIMIT = 0.005  # of the mass, where a paper states none
Progress = Callable[[int, int], None]


class Fault(NamedTuple):
    """A row that cannot be taken: its line in the file, and why."""

    line: int
    reason: str


class NotImported(Exception):
    """Nothing was written. `faults` holds the first of them, `count` says how many there are."""

    def __init__(self, faults: list[Fault], count: int) -> None:
        self.faults, self.count = faults, count
        super().__init__(f"{count} lines cannot be taken." if count != 1 else "One line cannot be taken.")


@dataclass(frozen=True)
class Imported:
    """What came of an import."""

    rows: int
    entries_new: int
    entries_known: int


@dataclass(frozen=True)
class Row:
    """One row as read; mass in milligrams."""

    line: int
    occurred_at: datetime
    cause: str
    refrigerant: str
    grade: str
    source: tuple[str, str]
    target: tuple[str, str]
    mass_mg: int
    person: str
    note: str
    key: str
    basis: str
    content: Mapping[str, str]


class _Faults:
    def __init__(self) -> None:
        self.first: list[Fault] = []
        self.count = 0

    def add(self, line: int, reason: str) -> None:
        self.count += 1
        if len(self.first) < KEPT_FAULTS:
            self.first.append(Fault(line, reason))

    def stop_if_any(self) -> None:
        if self.count:
            raise NotImported(sorted(self.first), self.count)


def import_file(
    path: Path,
    zone: ZoneInfo,
    workshop: Callable[[], Workshop],
    *,
    progress: Progress = lambda done, total: None,
) -> Imported:
    """Write a CSV file into a workshop's book, in one transaction; raises `NotImported` with every fault.

    `zone` is the book's, for times without one. `workshop` is called inside the transaction, so that a workshop which
    it makes is there only if the rows are.
    """
    faults = _Faults()
    with tempfile.TemporaryDirectory() as folder, closing(sqlite3.connect(Path(folder) / "rows")) as staged:
        total = _stage(staged, path, zone, faults, progress)
        if total == 0 and not faults.count:
            faults.add(1, "There is no row below the header.")
        faults.stop_if_any()
        with transaction.atomic(durable=True):
            result = _Writer(workshop(), faults, progress, total).write(_staged_rows(staged, zone))
            faults.stop_if_any()
    return result


# --- reading --------------------------------------------------------------------------------------------------


def _stage(staged: sqlite3.Connection, path: Path, zone: ZoneInfo, faults: _Faults, progress: Progress) -> int:
    """Read every row into a table that sorts by time; return how many there are."""
    staged.execute("PRAGMA synchronous=OFF")
    staged.execute("CREATE TABLE rows (at TEXT, line INTEGER, key TEXT, cells TEXT)")
    count = 0
    batch: list[tuple[str, int, str, str]] = []
    for line, cells in _cells(path, faults):
        count += 1
        row = _read(line, cells, zone, faults)
        if row is not None:
            at = row.occurred_at.astimezone(UTC).isoformat(timespec="milliseconds")
            batch.append((at, line, row.key, json.dumps(cells)))
        if len(batch) >= BATCH:
            staged.executemany("INSERT INTO rows VALUES (?, ?, ?, ?)", batch)
            batch.clear()
            progress(0, count)
    staged.executemany("INSERT INTO rows VALUES (?, ?, ?, ?)", batch)
    staged.execute("CREATE INDEX in_order ON rows (at, line)")
    for line, key in staged.execute(_KEYS_APART):
        faults.add(line, f"key: {key!r} stands on rows that do not follow each other in time.")
    return count


# Rows of one key are one entry, so they must follow each other.
_KEYS_APART = """
    SELECT MAX(line), key
    FROM (SELECT line, key, ROW_NUMBER() OVER (ORDER BY at, line) AS place FROM rows)
    WHERE key <> '' GROUP BY key HAVING MAX(place) - MIN(place) + 1 <> COUNT(*) ORDER BY 1
"""


def _staged_rows(staged: sqlite3.Connection, zone: ZoneInfo) -> Iterator[Row]:
    """Return the rows that were read, in the order in which they happened."""
    for line, cells in staged.execute("SELECT line, cells FROM rows ORDER BY at, line"):
        row = _read(line, json.loads(cells), zone, _Faults())
        if row is not None:
            yield row


def _cells(path: Path, faults: _Faults) -> Iterator[tuple[int, dict[str, str]]]:
    """Return each row of the file as text by column name; a wrong header or a broken file is a fault."""
    try:
        with path.open(encoding="utf-8-sig", newline="") as file:
            head = file.readline()
            delimiter = ";" if head.count(";") > head.count(",") else ","
            names = [name.strip() for name in next(csv.reader([head], delimiter=delimiter), [])]
            if (reason := _header_fault(names)) is not None:
                faults.add(1, reason)
                return
            reader = csv.reader(file, delimiter=delimiter, strict=True)
            for cells in reader:
                line = reader.line_num + 1
                if not any(cell.strip() for cell in cells):
                    continue
                if len(cells) != len(names):
                    faults.add(line, f"It has {len(cells)} cells; the header names {len(names)}.")
                    continue
                yield line, {name: cell.strip() for name, cell in zip(names, cells, strict=True)}
    except UnicodeDecodeError:
        faults.add(1, "The file is not UTF-8 text. Save it as CSV in UTF-8.")
    except csv.Error as error:
        faults.add(1, f"The file cannot be read as CSV: {error}.")
    except OSError as error:
        faults.add(1, f"The file cannot be opened: {error.strerror}.")


def _header_fault(names: list[str]) -> str | None:
    missing = [name for name in REQUIRED if name not in names]
    unknown = [name for name in names if name not in REQUIRED + OPTIONAL]
    if missing:
        return f"The header lacks {', '.join(missing)}."
    if unknown:
        return f"The header names {', '.join(unknown)}, which this import does not know."
    if len(set(names)) != len(names):
        return "The header names a column twice."
    return None


def _read(line: int, cells: Mapping[str, str], zone: ZoneInfo, faults: _Faults) -> Row | None:
    """Read one row; every cell that cannot be read is a fault of its own."""
    before = faults.count

    def cell(name: str, read: Callable[[str], Any]) -> Any:
        try:
            return read(cells[name])
        except (ValueError, LookupError) as error:
            faults.add(line, f"{name}: {error}")
            return None

    occurred_at = cell("occurred_at", lambda text: _moment(text, zone))
    cause = cell("cause", lambda text: _one_of(text, causes.CAUSES, "a cause"))
    code = cell("refrigerant", _refrigerant)
    grade = cell("grade", lambda text: _one_of(text, causes.GRADES, "a grade"))
    ends = [
        (
            cell(f"{end}_kind", lambda text: _one_of(text, causes.ACCOUNT_KINDS, "a kind of account")),
            cells[f"{end}_name"],
        )
        for end in ("from", "to")
    ]
    mass_mg = cell("mass", _mass_mg)
    basis = cell("basis", lambda text: _one_of(text, causes.BASES, "a basis")) if cells.get("basis") else "paper"
    for end, (kind, name) in zip(("from", "to"), ends, strict=True):
        if kind is not None and (reason := _name_fault(kind, name)) is not None:
            faults.add(line, f"{end}_name: {reason}")
    if cause and all(kind for kind, _ in ends) and (ends[0][0], ends[1][0]) not in causes.CAUSES[cause].routes:
        faults.add(line, f"cause: {cause} does not run from {ends[0][0]} to {ends[1][0]}.")
    if not cells["person"]:
        faults.add(line, "person: nobody is named.")
    elif len(cells["person"]) > 120:
        faults.add(line, "person: the name is longer than 120 characters.")
    if faults.count != before:
        return None
    source, target = ((kind, "" if kind in causes.SINGLE_KINDS else name) for kind, name in ends)
    return Row(
        line=line,
        occurred_at=occurred_at,
        cause=cause,
        refrigerant=code,
        grade=grade,
        source=source,
        target=target,
        mass_mg=mass_mg,
        person=cells["person"],
        note=cells["note"],
        key=cells.get("key", ""),
        basis=basis,
        content={name: text for name, text in sorted(cells.items()) if name != "key"},
    )


def _one_of(text: str, known: Iterable[str], what: str) -> str:
    if text not in known:
        raise ValueError(f"{text!r} is not {what}." if text else "It is empty.")
    return text


def _kind(text: str) -> str:
    return _one_of(text, causes.ACCOUNT_KINDS, "a kind of account")


def _refrigerant(text: str) -> str:
    try:
        return find(text).code
    except UnknownRefrigerant as error:
        raise ValueError(str(error)) from None


def _mass_mg(text: str) -> int:
    try:
        mass_mg = read_mass(text).mg
    except QuantityError as error:
        raise ValueError(str(error)) from None
    if mass_mg <= 0:
        raise ValueError("A movement is of more than nothing.")
    return int(mass_mg)


def _moment(text: str, zone: ZoneInfo) -> datetime:
    """Return a moment; a bare date counts as its noon, a time without zone is the book's."""
    try:
        bare = len(text) == 10
        moment = datetime.combine(date.fromisoformat(text), time(12)) if bare else datetime.fromisoformat(text)
    except ValueError:
        raise ValueError(f"{text!r} is not a date (2025-03-04) or a date with a time (2025-03-04T10:30).") from None
    moment = moment if moment.tzinfo else moment.replace(tzinfo=zone)
    try:
        ledger.moments(moment)
    except LedgerError as error:
        raise ValueError(str(error)) from None
    return moment


def _name_fault(kind: str, name: str) -> str | None:
    if kind in causes.SINGLE_KINDS:
        return None if name in ("", kind) else f"There is only one account {kind}; leave its name empty."
    if not name:
        return f"The {kind} has no name."
    if len(name) > LONGEST[kind]:
        return f"A {kind} has a name of {LONGEST[kind]} characters at most."
    return None


# --- writing --------------------------------------------------------------------------------------------------


@dataclass
class _Pending:
    """An entry to be, with its rows as lines."""

    key: UUID
    rows: list[Row]

    @property
    def first(self) -> Row:
        return self.rows[0]


class _Writer:
    """Writes rows that come in order of time; a row that the book refuses is a fault, and the whole is rolled back."""

    def __init__(self, workshop: Workshop, faults: _Faults, progress: Progress, total: int) -> None:
        self.workshop, self.faults, self.progress, self.total = workshop, faults, progress, total
        self.book = ledger.lock(workshop.book)
        self.recorded_at = ledger.moments(timezone.now())[1]
        self.balances = Balances()
        self.accounts = _named(self.book)
        last = Account.objects.filter(book=self.book).aggregate(last=Max("number"))["last"] or 0
        self.next_number = last + 1
        self.process = self.accounts[causes.PROCESS, ""]
        self.people: dict[str, User] = {}
        self.rows_done = self.entries_new = self.entries_known = 0

    def write(self, rows: Iterator[Row]) -> Imported:
        """Write all rows and say what came of it."""
        batch: list[_Pending] = []
        for pending in self._grouped(rows):
            batch.append(pending)
            if len(batch) >= BATCH:
                self._write_batch(batch)
                batch = []
        self._write_batch(batch)
        if not self.faults.count:
            self.balances.save()
            self.book.save(update_fields=["head_seq", "head_digest"])
        return Imported(self.rows_done, self.entries_new, self.entries_known)

    def _grouped(self, rows: Iterator[Row]) -> Iterator[_Pending]:
        """Join rows of one key, and rows through *process*, into one entry."""
        open_rows: list[Row] = []
        through_mg = 0
        for row in rows:
            if open_rows and not _goes_on(open_rows[0], row, through_mg):
                yield self._pending(open_rows)
                open_rows, through_mg = [], 0
            open_rows.append(row)
            through_mg += row.mass_mg * ((row.target[0] == causes.PROCESS) - (row.source[0] == causes.PROCESS))
        if open_rows:
            yield self._pending(open_rows)

    def _pending(self, rows: list[Row]) -> _Pending:
        return _Pending(_uuid(self.book, rows[0]), rows)

    def _write_batch(self, batch: list[_Pending]) -> None:
        known = {
            entry.request_key: entry
            for entry in Entry.objects.filter(book=self.book, request_key__in=[one.key for one in batch])
        }
        entries: list[Entry] = []
        movements: list[Movement] = []
        remarks: list[Remark] = []
        for pending in batch:
            self.rows_done += len(pending.rows)
            act = self._act(pending)
            if (entry := known.get(pending.key)) is not None:
                self._check_known(pending, entry, act)
                continue
            try:
                lines = [self._line(row) for row in pending.rows]
            except LedgerError as error:
                self.faults.add(pending.first.line, str(error))
                continue
            if self.balances.total(self.process) != 0:
                self.faults.add(pending.first.line, "What goes into the process on this line does not come out of it.")
                self.balances.forget(self.process)
                continue
            if self.faults.count:
                continue  # nothing will be written any more: the rest is read for its faults
            entry = self._entry(act)
            rows = [ledger.movement_row(entry, number, line) for number, line in enumerate(lines, start=1)]
            entry.digest = ledger.entry_digest(self.book, self.book.head_digest, entry, 0, rows, [])
            self.book.head_seq, self.book.head_digest = entry.seq, entry.digest
            entries.append(entry)
            movements.extend(rows)
            if act.remark:
                remarks.append(Remark(entry=entry, text=act.remark))
        Entry.objects.bulk_create(entries)
        for movement in movements:
            movement.entry_id = movement.entry.pk
        for remark in remarks:
            remark.entry_id = remark.entry.pk
        Movement.objects.bulk_create(movements, batch_size=BATCH)
        Remark.objects.bulk_create(remarks, batch_size=BATCH)
        self.entries_new += len(entries)
        self.progress(self.rows_done, self.total)

    def _act(self, pending: _Pending) -> Act:
        first = pending.first
        return Act(
            key=pending.key,
            actor=self._person(first.person).handle,
            occurred_at=first.occurred_at,
            content={"rows": [dict(row.content) for row in pending.rows]},
            context="import",
            remark="\n".join(dict.fromkeys(row.note for row in pending.rows if row.note)),
        )

    def _check_known(self, pending: _Pending, entry: Entry, act: Act) -> None:
        self.entries_known += 1
        if entry.request_digest != act.digest:
            self.faults.add(
                pending.first.line, f"key: {pending.first.key!r} stands on line {entry.seq} with other figures."
            )

    def _entry(self, act: Act) -> Entry:
        occurred_at = act.occurred_at.replace(microsecond=act.occurred_at.microsecond // 1000 * 1000)
        return Entry(
            book=self.book,
            seq=self.book.head_seq + 1,
            kind=Entry.POST,
            occurred_at=occurred_at,
            recorded_at=self.recorded_at,
            booked_on=ledger.booked_day(self.book, occurred_at, self.recorded_at),
            actor=act.actor,
            context=act.context,
            request_key=act.key,
            request_digest=act.digest,
        )

    def _line(self, row: Row) -> Line:
        line = Line(
            row.cause,
            self._account(row, *row.source),
            self._account(row, *row.target),
            row.refrigerant,
            row.grade,
            row.mass_mg,
            row.basis,
            u_random_mg=round(row.mass_mg * PAPER_LIMIT / 3**0.5) if row.basis == "paper" else 0,
        )
        ledger.check_line(self.book, line, from_paper=True)
        self.balances.apply(line)
        return line

    def _account(self, row: Row, kind: str, name: str) -> Account:
        if (known := self.accounts.get((kind, name)) or self.accounts.get((kind, mark(name)))) is not None:
            return known
        account = Account.objects.create(book=self.book, number=self.next_number, kind=kind, label=name)
        self.next_number += 1
        self.accounts[kind, name] = self.accounts[kind, mark(name)] = account
        self.balances.preload([account])
        if kind == causes.CYLINDER:
            _cylinder(account, row)
        elif kind == causes.PARTNER:
            Partner.objects.create(account=account, name=name, kind=SUPPLIED_BY.get(row.cause, "other"))
        elif kind == causes.VEHICLE:
            Vehicle.objects.create(account=account, registration=name, refrigerant=row.refrigerant, content="at least")
        return account

    def _person(self, name: str) -> User:
        """Return the person of a name: one of the workshop's, or a new one who does not sign in."""
        if name not in self.people:
            here = User.objects.filter(memberships__workshop=self.workshop)
            user = here.filter(display_name=name).first() or here.filter(username=name).first()
            if user is None:
                user = User(display_name=name)
                user.username, user.is_active = user.handle, False
                user.set_unusable_password()
                user.save()
                Membership.objects.create(user=user, workshop=self.workshop, role=TECHNICIAN, active=False)
            self.people[name] = user
        return self.people[name]


def _goes_on(first: Row, row: Row, through_mg: int) -> bool:
    """Whether a row belongs to the entry that `first` began."""
    if first.key or row.key:
        return first.key == row.key
    return through_mg != 0 and (row.occurred_at, row.person) == (first.occurred_at, first.person)


def _uuid(book: Book, row: Row) -> UUID:
    """Return the request key of a row: its own, or one from its content and line."""
    if not row.key:
        return uuid5(book.uid, f"{row.line} {json.dumps(row.content, sort_keys=True)}")
    try:
        return UUID(row.key)
    except ValueError:
        return uuid5(book.uid, row.key)


def _named(book: Book) -> dict[tuple[str, str], Account]:
    """Return the accounts by kind and name, and by what counts of the name; a joined one stands for the kept one."""
    rows = Account.objects.filter(book=book).select_related("cylinder", "vehicle", "partner", "joined_to")
    found = [(one.kind, _known_name(one), one.joined_to or one) for one in rows]
    by_mark = {(kind, mark(name)): account for kind, name, account in found}
    return by_mark | {(kind, name): account for kind, name, account in found}


def _known_name(account: Account) -> str:
    """Return the name by which a file means an account: serial, plate, partner's name, a rig's label."""
    if account.kind in causes.SINGLE_KINDS:
        return ""
    for kind, field in (("cylinder", "serial"), ("vehicle", "registration"), ("partner", "name")):
        if account.kind == kind and hasattr(account, kind):
            return str(getattr(getattr(account, kind), field))
    return account.label


def _cylinder(account: Account, row: Row) -> None:
    """Enter a cylinder that the file names first; what it is made of is not known."""
    recovery = row.grade in ("recovered", "suspect")
    kind = Cylinder.TANK if row.basis == "machine" else Cylinder.RECOVERY if recovery else Cylinder.REFILLABLE
    cylinder = Cylinder.objects.create(
        account=account,
        serial=account.label,
        kind=kind,
        refrigerant=row.refrigerant,
        grade=row.grade,
        tare_mg=0,
        tare_source="not known",
    )
    Tare.objects.create(cylinder=cylinder, tare_mg=0, source="not known", since=row.occurred_at)
