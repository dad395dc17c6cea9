"""A year of one invented workshop as raw movements, and small builders for other books.

The year is that of the acceptance table: book Port Ellery, 2025, two hours ahead of UTC. It is written through
`ledger.write` alone, with the masses of the weighings already taken; the acts have their own tests.
"""

import itertools
from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import UTC, date, datetime
from typing import Any
from uuid import uuid4

from django.db import transaction

from inventory import causes
from inventory.book import ledger
from inventory.book.draft import Draft, Line
from inventory.models import Account, Analysis, Book, Entry, Movement, Scale
from tests.inventory.book.lines import undo_line

G = 1000  # milligrams
YEAR_2025 = (date(2025, 1, 1), date(2025, 12, 31))
YEAR_2026 = (date(2026, 1, 1), date(2026, 12, 31))

# cause, from, to, refrigerant, grade, grams, basis
Move = tuple[str, str, str, str, str, int, str]


def noon(month: int, day: int, year: int = 2025, hour: int = 10) -> datetime:
    return datetime(year, month, day, hour, tzinfo=UTC)


@dataclass
class Desk:
    """A book with accounts by name ("C-12", "V1", "Northgas"), opened when first named, and a hand that writes."""

    book: Book
    accounts: dict[str, Account] = field(default_factory=dict)
    scales: dict[str, Scale] = field(default_factory=dict)
    numbers: Any = field(default_factory=lambda: itertools.count(1))

    def account(self, name: str) -> Account:
        if name not in self.accounts:
            if name in causes.SINGLE_KINDS:
                self.accounts[name] = Account.objects.get(book=self.book, kind=name)
            else:
                with transaction.atomic():
                    self.accounts[name] = ledger.open_account(self.book, _kind(name), name)
        return self.accounts[name]

    def scale(self, name: str, step_mg: int = 5_000) -> Scale:
        if name not in self.scales:
            with transaction.atomic():
                self.scales[name] = ledger.open_scale(self.book, name=name, step_mg=step_mg)
        return self.scales[name]

    def write(self, at: datetime, *moves: Move, context: str = "", **line: Any) -> Entry:
        """Write one entry with the moves as its lines."""

        def build(draft: Draft) -> None:
            for move in moves:
                draft.move(self.line(move, **line))

        content = {"moves": [list(move) for move in moves]}
        return ledger.write(self.book, ledger.Act(uuid4(), "p-tomas", at, content, context), build)

    def line(self, move: Move, **line: Any) -> Line:
        cause, source, target, code, grade, grams, basis = move
        return Line(cause, self.account(source), self.account(target), code, grade, grams * G, basis, **line)

    def reverse(self, entry: Entry, at: datetime) -> Entry:
        return undo_line(entry, ledger.Act(uuid4(), "p-olga", at, {"reverse": entry.seq}))

    def movement(self, entry: Entry, cause: str) -> Movement:
        return entry.movements.get(cause=cause)


def _kind(name: str) -> str:
    if name.startswith(("C-", "T-")):
        return causes.CYLINDER
    if name.startswith("V"):
        return causes.VEHICLE
    return causes.RIG if name.startswith("rig") else causes.PARTNER


A, F, B = "R-134a", "R-1234yf", "R-12"
VIRGIN, RECOVERED, RECYCLED, SUSPECT = "virgin", "recovered", "recycled", "suspect"


def port_ellery_2025(book: Book, clock: Callable[[datetime], datetime]) -> dict[str, Entry]:
    """Write the year into the book, each entry on the day it happened; return the entries by name."""
    desk = Desk(book)
    done: dict[str, Entry] = {}

    def write(name: str, at: datetime, *moves: Move, **options: Any) -> Entry:
        clock(at)
        done[name] = desk.write(at, *moves, **options)
        return done[name]

    start = noon(1, 1, hour=7)
    write("open C-12", start, ("opening-stock", "opening", "C-12", B, RECOVERED, 2_490, "single"))
    write("open C-35", start, ("opening-stock", "opening", "C-35", A, RECOVERED, 5_060, "single"))
    write("open C-41", start, ("opening-stock", "opening", "C-41", A, RECOVERED, 8_050, "single"))
    write("open C-37", start, ("opening-stock", "opening", "C-37", F, VIRGIN, 3_000, "single"))
    write("open T-1", start, ("opening-stock", "opening", "T-1", A, RECYCLED, 5_200, "machine"))
    write("buy C-34", noon(2, 20), ("purchase", "Northgas", "C-34", A, VIRGIN, 10_990, "single"))
    write(
        "recover V1",
        noon(3, 3),
        ("found-in-vehicle", "opening", "V1", B, RECOVERED, 868, "pair"),
        ("recovery", "V1", "C-12", B, RECOVERED, 868, "pair"),
        context="visit:1",
    )
    write(
        "charge V1",
        noon(3, 3, hour=14),
        _difference("C-34", 4),
        ("charge", "C-34", "V1", A, VIRGIN, 784, "pair"),
        context="visit:1",
    )
    write("charge V2", noon(4, 14), ("charge", "C-34", "V2", A, VIRGIN, 935, "pair"), context="visit:2")
    mixed = write(
        "recover V3",
        noon(5, 6),
        ("found-in-vehicle", "opening", "V3", "MIXED", SUSPECT, 465, "pair"),
        ("recovery", "V3", "C-40", "MIXED", SUSPECT, 465, "pair"),
        context="visit:3",
    )
    Analysis.objects.create(
        account=desk.account("V3"),
        entry=mixed,
        occurred_at=noon(5, 6),
        parts={"R-1234yf": "0.915", "R-134a": "0.080", "air": "0.005"},
    )
    write("charge V3", noon(5, 6, hour=15), ("charge", "C-37", "V3", F, VIRGIN, 480, "pair"), context="visit:3")
    weekend = write("weekend", noon(6, 16), _difference("C-35", 180, RECOVERED))
    write(
        "explain",
        noon(6, 18),
        ("loss-explained", "unexplained", "air", A, RECOVERED, 180, "rest"),
        explains=desk.movement(weekend, "weighing-difference"),
    )
    write(
        "recover bus",
        noon(7, 10),
        ("found-in-vehicle", "opening", "V-bus", A, RECOVERED, 6_770, "pair"),
        ("recovery", "V-bus", "C-41", A, RECOVERED, 2_445, "pair"),
        ("recovery", "V-bus", "C-42", A, RECOVERED, 4_325, "pair"),
        context="visit:4",
    )
    write("charge bus", noon(7, 11), ("charge", "C-34", "V-bus", A, VIRGIN, 7_000, "pair"), context="visit:4")
    write("charge V7", noon(8, 4), ("charge", "C-34", "V7", A, VIRGIN, 610, "pair"), context="visit:5")
    write("charge V8", noon(8, 12), ("charge", "C-34", "V8", A, VIRGIN, 585, "pair"), context="visit:6")
    write("charge V9", noon(8, 20), ("charge", "C-34", "V9", A, VIRGIN, 650, "pair"), context="visit:7")
    write(
        "return C-34",
        noon(9, 1),
        _difference("C-34", 7),
        ("heel-returned", "C-34", "Northgas", A, VIRGIN, 415, "single"),
    )
    write("buy C-44", noon(9, 1, hour=12), ("purchase", "Northgas", "C-44", A, VIRGIN, 11_005, "single"))
    write(
        "charge V4",
        noon(9, 15),
        _difference("C-44", 9),
        ("charge", "C-44", "V4", A, VIRGIN, 554, "pair"),
        context="visit:8",
    )
    write(
        "machine V5",
        noon(10, 7),
        ("found-in-vehicle", "opening", "V5", A, RECOVERED, 520, "machine"),
        ("recovery-through-machine", "V5", "process", A, RECOVERED, 520, "machine"),
        ("recovery-through-machine", "process", "T-1", A, RECYCLED, 520, "machine"),
        ("purge", "T-1", "air", A, RECYCLED, 6, "computed"),
        ("charge", "T-1", "V5", A, RECYCLED, 545, "machine"),
        context="visit:9",
    )
    write("destroy C-12", noon(11, 20), ("sent-away", "C-12", "Emberline", B, RECOVERED, 3_358, "single"))
    write(
        "recover V1 again",
        noon(12, 2),
        ("recovery", "V1", "C-35", A, RECOVERED, 640, "pair"),
        ("evacuated-residue", "V1", "air", A, RECOVERED, 18, "computed"),
        ("lost-on-the-road", "V1", "air", A, RECOVERED, 126, "rest"),
        context="visit:10",
    )
    write(
        "charge V1 again",
        noon(12, 2, hour=15),
        _difference("C-44", 2),
        ("charge", "C-44", "V1", A, VIRGIN, 770, "pair"),
        context="visit:10",
    )
    return done


def _difference(cylinder: str, grams: int, grade: str = VIRGIN) -> Move:
    return ("weighing-difference", cylinder, "unexplained", A, grade, grams, "pair")
