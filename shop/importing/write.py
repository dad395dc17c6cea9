"""A year kept elsewhere, from a CSV file into the book: all of it or nothing, and twice adds nothing.

The file is read once into a temporary table (`read`); then one transaction writes the entries in the order in which
they happened, with digests and holdings as `ledger` makes them. What cannot be read, or what the book refuses, is a
`Fault` with its line number.

Rows are written as given: no found-in-vehicle lines are added, so a vehicle's balance may stand below zero. A row is
one entry. Rows that follow each other in time with the same `key`, or that lead through *process* and out of it again
at one time by one person, are one entry together. What stands behind an imported line is paper unless it says
otherwise.
"""

import json
import sqlite3
import tempfile
from collections.abc import Callable, Iterator, Mapping
from contextlib import closing
from dataclasses import dataclass
from itertools import islice
from pathlib import Path
from types import MappingProxyType
from uuid import UUID, uuid5
from zoneinfo import ZoneInfo

from django.db import transaction
from django.db.models import Max
from django.utils import timezone

from inventory import causes
from inventory.book import ledger
from inventory.book.draft import Line, check_line
from inventory.book.holdings import Balances
from inventory.book.ledger import Act
from inventory.book.refusals import LedgerError
from inventory.book.rows import Written
from inventory.measure.marks import mark
from inventory.models import Account, Book, Cylinder, Entry, Partner, Remark, Tare
from shop.importing.people import Named
from shop.importing.read import BATCH, Faults, Progress, Row, plain_cells, stage, staged_rows
from shop.models import Vehicle, Workshop

SUPPLIED_BY = {"purchase": "supplier", "returned-reclaimed": "reclaimer", "customer-gas-in": "customer"}
_encode = json.JSONEncoder(sort_keys=True).encode
PAPER_LIMIT = 0.005  # of the mass, where a paper states none


@dataclass(frozen=True)
class Imported:
    """What came of an import."""

    rows: int
    entries_new: int
    entries_known: int


class Writer:
    """Writes rows that come in order of time; a row that the book refuses is a fault, and the whole is rolled back."""

    def __init__(
        self,
        workshop: Workshop,
        faults: Faults,
        progress: Progress,
        total: int,
        people: Mapping[str, str] = MappingProxyType({}),
    ) -> None:
        self.workshop, self.faults, self.progress, self.total = workshop, faults, progress, total
        self.book = ledger.lock(workshop.book)
        self.recorded_at = ledger.moments(timezone.now())[1]
        self.balances = Balances()
        self.accounts = _named(self.book)
        last = Account.objects.filter(book=self.book).aggregate(last=Max("number"))["last"] or 0
        self.next_number = last + 1
        self.process = self.accounts[causes.PROCESS, ""]
        self.named = Named(workshop, people)
        self.rows_done = self.entries_new = self.entries_known = 0

    def write(self, rows: Iterator[Row]) -> Imported:
        """Write all rows and say what came of it."""
        groups = self._grouped(rows)
        while batch := list(islice(groups, BATCH)):
            self._write_batch(batch)
        return Imported(self.rows_done, self.entries_new, self.entries_known)

    def _grouped(self, rows: Iterator[Row]) -> Iterator[list[Row]]:
        """Join rows of one key, and rows through *process*, which are one entry together."""
        group: list[Row] = []
        through_mg = 0
        for row in rows:
            if group and not _goes_on(group[0], row, through_mg):
                yield group
                group, through_mg = [], 0
            group.append(row)
            through_mg += row.mass_mg * ((row.target[0] == causes.PROCESS) - (row.source[0] == causes.PROCESS))
        if group:
            yield group

    def _write_batch(self, groups: list[list[Row]]) -> None:
        acts = [self._act(group) for group in groups]
        there = Entry.objects.filter(book=self.book, request_key__in=[act.key for act in acts])
        known = {entry.request_key: entry for entry in there}
        written: list[Written] = []
        remarks: list[Remark] = []
        for group, act in zip(groups, acts, strict=True):
            self.rows_done += len(group)
            if (entry := known.get(act.key)) is not None:
                self._check_known(group[0], entry, act)
                continue
            lines = self._lines(group)
            if self.faults.count:
                continue  # nothing will be written any more: the rest is read for its faults
            entry = self._entry(act)
            written.append(Written(entry, [*enumerate(lines, 1)]))
            if act.remark:
                remarks.append(Remark(entry=entry, text=act.remark))
        if written and not self.faults.count:
            ledger.append(self.book, written, self.balances)
            for remark in remarks:
                remark.entry_id = remark.entry.pk
            Remark.objects.bulk_create(remarks, batch_size=BATCH)
        self.entries_new += len(written)
        self.progress(self.rows_done, self.total)

    def _lines(self, group: list[Row]) -> list[Line]:
        """Return the lines of an entry, which count at once; what the book refuses is a fault."""
        try:
            lines = [self._line(row) for row in group]
        except LedgerError as error:
            self.faults.add(group[0].line, str(error))
            return []
        if self.balances.total(self.process) != 0:
            self.faults.add(group[0].line, "What goes into the process on this line does not come out of it.")
            self.balances.forget(self.process)
        return lines

    def _act(self, group: list[Row]) -> Act:
        first = group[0]
        return Act(
            key=row_key(self.book, first),
            actor=self.named.person(first.person).handle,
            occurred_at=first.occurred_at,
            content={"rows": [dict(row.content) for row in group]},
            context="import",
            remark="\n".join(dict.fromkeys(row.note for row in group if row.note)),
        )

    def _check_known(self, first: Row, entry: Entry, act: Act) -> None:
        self.entries_known += 1
        if entry.request_digest != act.digest:
            self.faults.add(first.line, f"key: {first.key!r} stands on line {entry.seq} with other figures.")

    def _entry(self, act: Act) -> Entry:
        occurred_at = act.occurred_at.replace(microsecond=act.occurred_at.microsecond // 1000 * 1000)
        return Entry(
            book=self.book,
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
        check_line(self.book, line, from_paper=True)
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


def _goes_on(first: Row, row: Row, through_mg: int) -> bool:
    """Whether a row belongs to the entry that `first` began."""
    if first.key or row.key:
        return first.key == row.key
    return through_mg != 0 and (row.occurred_at, row.person) == (first.occurred_at, first.person)


def row_key(book: Book, row: Row) -> UUID:
    """Return the request key of a row: its own, or one from its content and line."""
    if not row.key:
        return uuid5(book.uid, f"{row.line} {_encode(row.content)}")
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
    faults = Faults()
    with tempfile.TemporaryDirectory() as folder, closing(sqlite3.connect(Path(folder) / "rows")) as staged:
        total = stage(staged, plain_cells(path, faults), zone, faults, progress)
        if total == 0 and not faults.count:
            faults.add(1, "There is no row below the header.")
        faults.stop_if_any()
        with transaction.atomic(durable=True):
            result = Writer(workshop(), faults, progress, total).write(staged_rows(staged, zone))
            faults.stop_if_any()
    return result
