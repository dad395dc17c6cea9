"""Drawn acts, and a plain counter that says what a book must hold after them."""

from collections import Counter
from dataclasses import dataclass
from typing import Any
from uuid import UUID, uuid4

import pytest
from hypothesis import strategies as st

from inventory.book import ledger
from inventory.book.draft import Line
from inventory.book.refusals import (
    LedgerError,
    NotEnoughHeld,
    WouldMix,
)
from inventory.models import Account, Entry, Holding
from tests.inventory.book.lines import undo_line

KG = 1_000_000
TARE_MG = 6_200_000
EXAMPLES = 25
STOCK = ("full", "spare", "rig")
CONTENTS = (("R-134a", "virgin"), ("R-134a", "recovered"), ("R-12", "recovered"))
ROUTES = (
    ("purchase", "supplier", "full"),
    ("purchase", "supplier", "spare"),
    ("charge", "full", "car"),
    ("charge", "spare", "bus"),
    ("recovery", "car", "spare"),
    ("recovery", "bus", "full"),
    ("transfer", "full", "spare"),
    ("transfer", "spare", "full"),
    ("rig-filled", "full", "rig"),
    ("rig-cleared", "rig", "car"),
    ("purge", "full", "air"),
    ("weighing-difference", "full", "unexplained"),
    ("weighing-difference", "unexplained", "spare"),
)


@dataclass(frozen=True)
class Move:
    """One movement to try."""

    cause: str
    giver: str
    taker: str
    content: tuple[str, str]
    mass_mg: int


@dataclass(frozen=True)
class Undo:
    """Reverse the entry of this place in the story so far."""

    place: int


@dataclass(frozen=True)
class Again:
    """Send the request of this place in the story so far once more."""

    place: int


moves = st.builds(
    lambda route, content, mass_mg: Move(*route, content, mass_mg),
    st.sampled_from(ROUTES[:2] * 3 + ROUTES),  # what is never bought is never charged
    st.sampled_from(CONTENTS[:1] * 8 + CONTENTS),  # mostly one content, or nearly every act is refused
    st.integers(1, 8 * KG) | st.sampled_from([1, KG // 2, KG]),
)
stories = st.lists(
    st.one_of(moves, moves, moves, st.builds(Undo, st.integers(0, 20)), st.builds(Again, st.integers(0, 20))),
    min_size=8,
    max_size=30,
)


FILLED = Move("purchase", "supplier", "full", CONTENTS[0], 20 * KG)  # a story that begins with nothing moves little


class Oracle:
    """What a plain counter says the book must hold, and which acts it must refuse."""

    def __init__(self) -> None:
        self.held: Counter[tuple[str, str, str]] = Counter()

    def try_move(self, move: Move, sign: int = 1) -> bool:
        """Carry a movement (or, with sign -1, its reversal) and say whether it is fair; else nothing changes."""
        after = self.held.copy()
        for name, change in ((move.giver, -move.mass_mg * sign), (move.taker, move.mass_mg * sign)):
            code, grade = move.content
            after[name, code, grade if name in STOCK else ""] += change
        for name in STOCK:
            contents = [mass for (account, _, _), mass in after.items() if account == name and mass]
            if len(contents) > 1 or min(contents, default=0) < 0:
                return False
        self.held = after
        return True


@dataclass
class Told:
    """One act that the book has written: its request, its entry and what it moved."""

    key: UUID
    entry: Entry
    move: Move
    is_undoing: bool = False
    undone: bool = False


class Story:
    """Plays drawn acts into a book and the oracle side by side."""

    def __init__(self, book: Any, world: dict[str, Account], act: Any) -> None:
        self.book, self.world, self.act = book, world, act
        self.oracle, self.told = Oracle(), []

    def play(self, step: Move | Undo | Again) -> None:
        if isinstance(step, Move):
            self._move(step)
        elif self.told and isinstance(step, Undo):
            self._undo(self.told[step.place % len(self.told)])
        elif self.told and isinstance(step, Again):
            self._again(self.told[step.place % len(self.told)])

    def _write(self, move: Move, key: UUID) -> Entry:
        ends = self.world[move.giver], self.world[move.taker]
        basis = "computed" if move.cause.startswith("rig") else "single" if move.cause == "purchase" else "pair"
        line = Line(move.cause, *ends, *move.content, move.mass_mg, basis)
        asked = self.act(key, content=vars(move))
        return ledger.write(self.book, asked, lambda draft: draft.move(line))

    def _move(self, move: Move) -> None:
        key = uuid4()
        if self.oracle.try_move(move):
            self.told.append(Told(key, self._write(move, key), move))
        else:
            with pytest.raises((NotEnoughHeld, WouldMix)):
                self._write(move, key)

    def _undo(self, told: Told) -> None:
        key = uuid4()
        fair = not told.undone and not told.is_undoing and self.oracle.try_move(told.move, sign=-1)
        if not fair:
            with pytest.raises(LedgerError):
                undo_line(told.entry, self.act(key))
            return
        told.undone = True
        self.told.append(Told(key, undo_line(told.entry, self.act(key)), told.move, is_undoing=True))

    def _again(self, told: Told) -> None:
        if not told.is_undoing:
            assert self._write(told.move, told.key) == told.entry

    def holdings(self) -> dict[tuple[str, str, str], int]:
        names = {account.pk: name for name, account in self.world.items()}
        rows = Holding.objects.filter(account__book=self.book).exclude(mass_mg=0)
        return {(names[row.account_id], row.refrigerant, row.grade): int(row.mass_mg) for row in rows}
