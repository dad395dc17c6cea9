"""The proof of the masses: every line carried in order, against the laws of stock, the holdings and the totals."""

import math
from collections import defaultdict
from collections.abc import Callable, Iterator
from datetime import date
from typing import Any

from django.db.models import Sum

from inventory import causes
from inventory.book.auditchain import Found
from inventory.book.auditrows import Reader, Row, chunks, named
from inventory.gases.catalogue import MIXED
from inventory.models import Book, Holding, Movement, PeriodTotal
from inventory.models.totals import ADDED, ALIKE

Sums = list[float]
EXACT = 2**53


class Masses:
    """One pass over the movements of a book, from the line after `since` to its head."""

    def __init__(self, book: Book, using: str, since: int = 0) -> None:
        self.book, self.using, self.since = book, using, since
        self.references, self.kinds, self.scales = named(book, using)
        self.balances: dict[int, dict[tuple[str, str], int]] = defaultdict(dict)
        self.unexplained: dict[int, int] = {}  # what is left of a difference, by its movement
        self.of_days: dict[tuple[Any, ...], Sums] = {}
        if since:
            self._begin()

    def found(self, tell: Callable[[int], None] = lambda lines: None) -> Iterator[Found]:
        """Yield the lines that break a law of stock; `tell` is told how many lines were carried."""
        reader = Reader(self.book, self.using)
        for first, last in chunks(self.since + 1, self.book.head_seq):
            entry, in_process = 0, 0
            for row in reader.masses((first, last)):
                seq, source, target, code, grade, mass = row[0], *row[4:9]
                if seq != entry:
                    if in_process:
                        yield entry, f"line {entry}", "leaves a rest in the process account"
                    entry, in_process = seq, 0
                if source not in self.kinds or target not in self.kinds:
                    continue  # of another book: the proof of the chain says so
                self._count(row)
                for account, change in ((source, -mass), (target, mass)):
                    kind = self.kinds[account]
                    stock = kind in causes.STOCK_KINDS
                    held, content = self.balances[account], (code, grade if stock else "")
                    held[content] = held.get(content, 0) + change
                    if kind == causes.PROCESS:
                        in_process += change
                    elif stock and (len(held) > 1 or held[content] < 0):
                        yield from self._stock(row, account)
                if row[14] is not None:
                    yield from self._explanation(row)
            if in_process:
                yield entry, f"line {entry}", "leaves a rest in the process account"
            tell(last - first + 1)

    def _stock(self, row: Row, account: int) -> Iterator[Found]:
        """Look whether stock holds one content and never less than nothing."""
        masses = [mass for mass in self.balances[account].values() if mass]
        named = f"line {row[0]}, movement {row[1]}"
        if masses and min(masses) < 0:
            yield row[0], named, f"takes more than {self.references[account]} held"
        if len(masses) > 1:
            yield row[0], named, f"mixes two contents in {self.references[account]}"

    def _explanation(self, row: Row) -> Iterator[Found]:
        """Look whether an explanation leaves nothing less than nothing of its difference."""
        cause, target, mass, mark, difference, its_target, its_mass = row[2], row[5], row[8], row[12], *row[14:]
        if difference not in self.unexplained:
            before = self._explained_before(difference) if self.since else 0
            self.unexplained[difference] = self._lost(its_target, its_mass or 0) + before
        left = self.unexplained[difference]
        after = self.unexplained[difference] = left + self._lost(target, mass)
        if cause in causes.USES_UP and not mark and (abs(after) >= abs(left) or after * left < 0):
            yield row[0], f"line {row[0]}, movement {row[1]}", "explains more than was left of the difference"

    def _lost(self, target: int, mass_mg: int) -> int:
        return mass_mg if self.kinds.get(target) == causes.UNEXPLAINED else -mass_mg

    def _explained_before(self, difference: int) -> int:
        rows = Movement.objects.using(self.using).filter(explains=difference, entry__seq__lte=self.since)
        return sum(self._lost(target, mass) for target, mass in rows.values_list("target_id", "mass_mg"))

    def _begin(self) -> None:
        """Begin with what accounts held at the line `since`, which the database adds up."""
        moved = Movement.objects.using(self.using).filter(entry__book=self.book, entry__seq__lte=self.since)
        for end, sign in (("source_id", -1), ("target_id", 1)):
            rows = moved.values_list(end, "refrigerant", "grade").order_by().annotate(sum=Sum("mass_mg"))
            for account, code, grade, mass in rows:
                held = self.balances[account]
                content = (code, grade if self.kinds.get(account) in causes.STOCK_KINDS else "")
                held[content] = held.get(content, 0) + sign * int(mass)

    def holdings(self) -> Iterator[Found]:
        """Look whether every holding is the sum of its movements."""
        columns = ("account_id", "refrigerant", "grade", "stock", "mass_mg")
        rows = Holding.objects.using(self.using).filter(account__book=self.book).order_by("account__number", "pk")
        end = self.book.head_seq
        for account, code, grade, stock, mass in rows.values_list(*columns):
            moved = self.balances[account].pop((code, grade), 0)
            if moved != mass:
                yield end, self._holding(account, code, grade), f"says {mass} mg; its movements say {moved} mg"
            if stock != (self.kinds[account] in causes.STOCK_KINDS):
                yield end, self._holding(account, code, grade), "has the mark of stock wrongly set"
        for account, left in self.balances.items():
            for (code, grade), mass in left.items():
                yield end, self._holding(account, code, grade), f"is not there; its movements say {mass} mg"

    def _count(self, row: Row) -> None:
        """Add a movement to the totals of its day."""
        _, _, cause, basis, source, target, code, grade, mass, random, span, scale, mark, day, *_ = row
        ends = (source, target) if code == MIXED else (0, 0)
        key = (day, code, grade, cause, basis, self.kinds[source], self.kinds[target], scale or 0, *ends)
        there = self.of_days.get(key)
        if there is None:
            there = self.of_days[key] = [0, 0.0, 0, 0]
        there[0] += mass
        there[1] += float(random * random)
        there[2] += -span if mark else span
        there[3] += 1

    def totals(self) -> Iterator[Found]:
        """Look whether the total of every day and month is the sum of its movements."""
        moved = self._of_periods()
        rows = PeriodTotal.objects.using(self.using).filter(book=self.book).order_by("begins_on", "whole_month", "pk")
        end = self.book.head_seq
        for row in rows.values_list(*ALIKE, *ADDED).iterator():
            key, says = row[: len(ALIKE)], [*row[len(ALIKE) :]]
            is_ = moved.pop(key, [0, 0.0, 0, 0])
            if not _agree(is_, says):
                yield end, _total(key), f"says {_sums(says)}; its movements say {_sums(is_)}"
        for key, is_ in moved.items():
            yield end, _total(key), f"is not there; its movements say {_sums(is_)}"

    def _of_periods(self) -> dict[tuple[Any, ...], Sums]:
        """Return the totals of days and of months, as PeriodTotal has them."""
        found: dict[tuple[Any, ...], Sums] = {}
        for (day, *rest), sums in self.of_days.items():
            begins_on = date.fromisoformat(day)
            for period in ((False, begins_on), (True, begins_on.replace(day=1))):
                there = found.setdefault((*period, *rest), [0, 0.0, 0, 0])
                for place, more in enumerate(sums):
                    there[place] += more
        return found

    def _holding(self, account: int, code: str, grade: str) -> str:
        return f"holding of {self.references[account]}, {code} {grade}".rstrip()


def _total(key: tuple[Any, ...]) -> str:
    whole_month, begins_on, *rest = key
    alike = " ".join(str(one) for one in rest if one)
    return f"total of {begins_on.strftime('%Y-%m') if whole_month else begins_on}, {alike}"


def _agree(is_: Sums, says: Sums) -> bool:
    """Whether two sums are one; squares too large for a float to hold exactly may differ by the order of adding."""
    place = ADDED.index("random_sq")
    rest = [*is_[:place], *is_[place + 1 :]] == [*says[:place], *says[place + 1 :]]
    inexact = min(is_[place], says[place]) > EXACT and math.isclose(is_[place], says[place], rel_tol=1e-9)
    return rest and (is_[place] == says[place] or inexact)


def _sums(values: Sums) -> str:
    return ", ".join(f"{name} {value}" for name, value in zip(ADDED, values, strict=True))
