"""What accounts hold, read once each, carried along line by line under the book's lock, and written with the lines."""

from collections.abc import Iterable
from typing import Protocol

from django.db import connection
from django.db.backends.utils import CursorWrapper

from inventory import causes
from inventory.book.inserting import Insert
from inventory.book.refusals import NotEnoughHeld, WouldMix
from inventory.models import Account, Holding

Gas = tuple[str, str]  # refrigerant, grade
Content = tuple[str, str, int]  # refrigerant, grade, milligrams

_TABLE = Holding._meta.db_table
_OF = f"SELECT account_id, refrigerant, grade, mass_mg FROM {_TABLE} WHERE account_id IN "  # noqa: S608 - our names
_WRITE = Insert(Holding, "ON CONFLICT (account_id, refrigerant, grade) DO UPDATE SET mass_mg = excluded.mass_mg")
_READ_AT_ONCE = 1_000


class Moves(Protocol):
    """A mass that is to go from one account to another."""

    @property
    def source(self) -> Account: ...

    @property
    def target(self) -> Account: ...

    @property
    def refrigerant(self) -> str: ...

    @property
    def grade(self) -> str: ...

    @property
    def mass_mg(self) -> int: ...


class Balances:
    """What accounts hold, read once each and carried along line by line under the book's lock."""

    def __init__(self) -> None:
        self._held: dict[int, dict[Gas, int]] = {}
        self._accounts: dict[int, Account] = {}
        self._touched: set[tuple[int, Gas]] = set()

    def of(self, account: Account) -> dict[Gas, int]:
        """Return the masses an account holds by (refrigerant, grade), in milligrams, without empty ones."""
        return {gas: mass for gas, mass in self._load(account).items() if mass}

    def content(self, account: Account) -> Content | None:
        """Return (refrigerant, grade, milligrams) of a cylinder; None where empty."""
        return next(((*gas, mass) for gas, mass in self.of(account).items()), None)

    def together(self, account: Account) -> dict[Gas, int]:
        """Return what an account holds together with those that are joined to it."""
        held: dict[Gas, int] = {}
        for one in (account, *account.joined.all()):
            for gas, mass in self._load(one).items():
                held[gas] = held.get(gas, 0) + mass
        return {gas: mass for gas, mass in held.items() if mass}

    def preload(self, accounts: Iterable[Account]) -> None:
        """Read what many accounts hold at once."""
        fresh = {account.pk: account for account in accounts if account.pk not in self._held}
        self._accounts.update(fresh)
        self._held.update({pk: {} for pk in fresh})
        keys = [*fresh]
        with connection.cursor() as cursor:
            for first in range(0, len(keys), _READ_AT_ONCE):
                asked = keys[first : first + _READ_AT_ONCE]
                cursor.execute(f"{_OF}({', '.join(['%s'] * len(asked))})", asked)
                for pk, code, grade, mass_mg in cursor.fetchall():
                    self._held[pk][code, grade] = mass_mg

    def _load(self, account: Account) -> dict[Gas, int]:
        if account.pk not in self._held:
            self.preload([account])
        return self._held[account.pk]

    def apply(self, line: Moves) -> None:
        """Carry one line into both ends; raises NotEnoughHeld or WouldMix for stock."""
        if line.source.pk not in self._held or line.target.pk not in self._held:
            self.preload((line.source, line.target))
        self._add(line.source, line, -line.mass_mg)
        self._add(line.target, line, line.mass_mg)

    def _add(self, account: Account, line: Moves, mass_mg: int) -> None:
        stock = account.kind in causes.STOCK_KINDS
        gas = (line.refrigerant, line.grade if stock else "")
        held = self._load(account)
        mass = held.get(gas, 0) + mass_mg
        if stock and mass < 0:
            has = ", ".join(f"{m / 1_000_000:.3f} kg {c} {g}" for (c, g), m in self.of(account).items()) or "nothing"
            raise NotEnoughHeld(
                f"{account} holds {has}; {-mass_mg / 1_000_000:.3f} kg {line.refrigerant} {line.grade} cannot leave it."
            )
        others = (other for other, m in held.items() if other != gas and m)
        if stock and mass and (there := next(others, None)) is not None:
            raise WouldMix(
                f"{account} holds {' '.join(there)}; {line.refrigerant} {line.grade} would be mixed into it. "
                "Use another cylinder, or one marked suspect."
            )
        held[gas] = mass
        self._touched.add((account.pk, gas))

    def total(self, account: Account) -> int:
        """Return the mass of an account over all refrigerants, in milligrams."""
        return sum(self._load(account).values())

    def forget(self, account: Account) -> None:
        """Let an account hold nothing, where what is being read will not be written anyway."""
        self._held[account.pk] = {}

    def save(self, cursor: CursorWrapper) -> None:
        """Write the changed holdings: what became empty first, so that the content of a cylinder may change.

        Whole masses are written, never what is added to them: constraints look at what is to be inserted alone.
        """
        rows = []
        for pk, gas in self._touched:
            stock = self._accounts[pk].kind in causes.STOCK_KINDS
            rows.append((pk, *gas, stock, self._held[pk][gas]))
        rows.sort(key=lambda row: bool(row[-1]))
        _WRITE.run(cursor, rows)
        self._touched.clear()
