"""The proof of a stretch of the chain: the digest of each line, and the rules that a line keeps by itself.

The digest is recomputed here from the rows by code of its own: a slip in the writing is not repeated in the proof. A
stretch is proved by itself, from the digest of the line before it, so that several can be proved side by side.
"""

import hashlib
import json
from collections import defaultdict
from collections.abc import Callable, Iterator

from inventory import causes
from inventory.book.auditrows import Reader, Row, chunks, named
from inventory.book.chain import VERSION
from inventory.book.ledger import CLOSED
from inventory.models import Book, Entry, Movement

Found = tuple[int, str, str]  # number of the line, the row, and what is wrong about it

# As the ledger writes it; one encoder for all rows, since making one costs as much as using it.
_encode = json.JSONEncoder(ensure_ascii=True, separators=(",", ":")).encode


class Stretch:
    """The lines of a book from one number to another."""

    def __init__(self, book: Book, using: str, first: int, last: int) -> None:
        self.book, self.using, self.first, self.last = book, using, first, last
        self.key, self.uid = book.pk, str(book.uid)
        self.references, self.kinds, self.scales = named(book, using)
        before = Entry.objects.using(using).filter(book=book, seq__lt=first).order_by("-seq")
        self.last_seq, self.previous = before.values_list("seq", "digest").first() or (0, "")
        self.closed = closed_by(book, using, first - 1)

    def found(self, tell: Callable[[int], None] = lambda lines: None) -> Iterator[Found]:
        """Yield what is wrong, the first wrong row first; `tell` is told how many lines were read."""
        reader = Reader(self.book, self.using)
        for bounds in chunks(self.first, self.last):
            movements, weighings = _by_entry(reader.movements(bounds)), _by_entry(reader.weighings(bounds))
            for entry in reader.entries(bounds):
                key, seq = entry[:2]
                if seq != self.last_seq + 1:
                    yield seq, f"line {self.last_seq + 1}", f"is not in the book; after it comes line {seq}"
                self.last_seq = seq
                yield from self._entry(entry, movements.get(key, []), weighings.get(key, []))
            tell(bounds[1] - bounds[0] + 1)

    def _entry(self, entry: Row, movements: list[Row], weighings: list[Row]) -> Iterator[Found]:
        """Look at one entry with its lines; where a line cannot be read as one of this book, at nothing further."""
        _, seq, kind, occurred, recorded, booked_on, actor, context, key, request, seals, *rest = entry
        traced, digest, *undone = rest
        reverses_id, reverses_seq, _ = undone
        previous, self.previous = self.previous, digest
        if strangers := [*self._strangers(entry, movements, weighings)]:
            yield from strangers
            return
        facts = [
            VERSION,
            previous,
            self.uid,
            seq,
            kind,
            occurred,
            recorded,
            booked_on,
            actor,
            context,
            key if len(key) == 36 else f"{key[:8]}-{key[8:12]}-{key[12:16]}-{key[16:20]}-{key[20:]}",
            request,
            reverses_seq or 0,
            seals,
            [self._movement_facts(row) for row in movements],
            [self._weighing_facts(row) for row in weighings],
            *([traced] if traced else []),
        ]
        if hashlib.sha256(_encode(facts).encode("ascii")).hexdigest() != digest:
            yield seq, f"line {seq}", "is not what was written: its digest does not follow from what is there"
        yield from self._rules(entry, movements)
        if reverses_id is not None:
            yield from self._reversal(seq, reverses_id, reverses_seq, movements)

    def _movement_facts(self, row: Row) -> list[object]:
        _, line, cause, basis, source, target, code, grade, mass, random, span, scale, tell, mark, _, _, *explains = row
        explains_id, _, explains_seq, explains_line = explains
        return [
            line,
            cause,
            basis,
            self.references[source],
            self.references[target],
            code,
            grade,
            mass,
            random,
            span,
            self.scales[scale],
            tell,
            mark,
            "" if explains_id is None else f"{explains_seq}:{explains_line}",
        ]

    def _weighing_facts(self, row: Row) -> list[object]:
        _, line, account, role, gross, tare, u, step, scale, typed, raw = row
        facts = [line, self.references[account], role, gross, tare, u, step, self.scales[scale], typed]
        return [*facts, raw] if raw else facts

    def _strangers(self, entry: Row, movements: list[Row], weighings: list[Row]) -> Iterator[Found]:
        """Look for what another book owns."""
        seq, booked_on, reverses_id, _, reverses_book = entry[1], entry[5], *entry[13:]
        if reverses_id is not None and reverses_book != self.key:
            yield seq, f"line {seq}", "reverses a line of another book"
        for row in movements:
            if row[4] not in self.kinds or row[5] not in self.kinds or row[11] not in self.scales:
                yield seq, f"line {seq}, movement {row[1]}", "names an account or a scale of another book"
            elif row[14] != self.key or row[15] != booked_on:
                words = "is kept under another book or another day than its line"
                yield seq, f"line {seq}, movement {row[1]}", words
            elif row[16] is not None and row[17] != self.key:
                yield seq, f"line {seq}, movement {row[1]}", "explains a difference of another book"
        for row in weighings:
            if row[2] not in self.kinds or row[8] is None or row[8] not in self.scales:
                yield seq, f"line {seq}, weighing {row[1]}", "names an account or a scale of another book"

    def _rules(self, entry: Row, movements: list[Row]) -> Iterator[Found]:
        """Look whether an entry counts for an open day, and whether its lines are in the closed lists."""
        _, seq, kind, _, _, booked_on, _, context, *_ = entry
        if booked_on <= self.closed:
            words = f"counts for {booked_on}; the book was closed through {self.closed}"
            yield seq, f"line {seq}", words
        if kind == Entry.CLOSE and context.startswith(CLOSED):
            self.closed = context.removeprefix(CLOSED)
        for row in movements:
            cause = causes.CAUSES.get(row[2])
            route = (self.kinds[row[4]], self.kinds[row[5]])
            if cause is None or route not in cause.routes:
                yield seq, f"line {seq}, movement {row[1]}", f"{row[2]} does not run {' to '.join(route)}"
            if bool(row[13]) != (kind == Entry.REVERSE):
                yield seq, f"line {seq}, movement {row[1]}", "has the mark of a reversal wrongly set"

    def _reversal(self, seq: int, reverses: int, reverses_seq: int, movements: list[Row]) -> Iterator[Found]:
        """Look whether a reversal is the whole of what it reverses, last line first."""
        columns = ("cause", "source_id", "target_id", "refrigerant", "grade", "mass_mg")
        undone = Movement.objects.using(self.using).filter(entry_id=reverses).order_by("-line")
        written = [(row[2], *row[4:8], -row[8]) for row in movements]
        if written != list(undone.values_list(*columns)):
            yield seq, f"line {seq}", f"does not undo the whole of line {reverses_seq}"


def _by_entry(rows: list[Row]) -> dict[int, list[Row]]:
    by_entry: dict[int, list[Row]] = defaultdict(list)
    for row in rows:
        by_entry[row[0]].append(row)
    return by_entry


def closed_by(book: Book, using: str, seq: int) -> str:
    """Return the day through which the lines up to one of them have closed the book; empty where none has."""
    closing = Entry.objects.using(using).filter(book=book, seq__lte=seq, kind=Entry.CLOSE, context__startswith=CLOSED)
    context = closing.order_by("-seq").values_list("context", flat=True).first()
    return context.removeprefix(CLOSED) if context else ""
