"""An entry while it is built: its lines and readings, checked, and what every account then holds.

A draft knows what each account holds, its own lines included, so that an act sees what it has done so far. Nothing is
written before `ledger.append`.
"""

from collections.abc import Callable
from dataclasses import dataclass, field, fields
from datetime import datetime
from typing import Self

from inventory import causes
from inventory.book.differences import into_unexplained_mg, open_mg
from inventory.book.holdings import Balances, Content
from inventory.book.refusals import TooMuchExplained, WrongLine
from inventory.gases.catalogue import UnknownRefrigerant, refrigerant
from inventory.models import Account, Book, Entry, Movement, Scale, Weighing

LARGEST_MG = 10**12  # a thousand tonnes; more is a slip, and would overflow a sum before long


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

    @classmethod
    def of(cls, movement: Movement) -> Self:
        """Return the line that a movement was written from."""
        return cls(**{name.name: getattr(movement, name.name) for name in fields(cls)})


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
    raw: str = ""
    sent_step_mg: int = 0  # in which it came by wire

    @property
    def step_mg(self) -> int:
        """The step of the reading: the scale's own, or that in which it came where that is coarser."""
        return max(int(self.scale.step_mg), self.sent_step_mg)

    @property
    def is_open(self) -> bool:
        """Whether it is the first reading of a pair."""
        return self.role == Weighing.BEFORE

    @property
    def net_mg(self) -> int:
        """Gross less tare."""
        return self.gross_mg - self.tare_mg


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

    def leaves_in_process(self) -> bool:
        """Whether what its lines brought into the process did not all come out of it."""
        lines = [line for line in self.lines if causes.PROCESS in (line.source.kind, line.target.kind)]
        return bool(lines) and self.balances.total(self.account(causes.PROCESS)) != 0

    def content(self, account: Account) -> Content | None:
        """Return (refrigerant, grade, milligrams) of a cylinder as the book has it now; None where empty."""
        return self.balances.content(account)

    def at_last(self, add: Callable[[], object]) -> None:
        """Run `add` when the act has added its own lines, before the entry is written."""
        self.closing.append(add)

    def then(self, write: Callable[[Entry], object]) -> None:
        """Run `write` with the entry once it stands, in the same transaction."""
        self.afterwards.append(write)


Moved = Line | Movement
Read = Reading | Weighing
Build = Callable[[Draft], object]  # what it returns is not looked at


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
