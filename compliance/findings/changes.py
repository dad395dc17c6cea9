"""What has changed since a workshop's records were judged: new lines of its book, and what the triggers noticed.

Each is traced to the vehicles whose visits read otherwise than before; the rest is a matter of the whole book.
"""

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from datetime import datetime
from functools import lru_cache
from pathlib import Path

from django.conf import settings
from django.db.models import Q, QuerySet
from django.db.models.functions import Coalesce

from compliance.findings.noticing import PEOPLE, VEHICLE, VISIT, WORKSHOP
from compliance.models import Noticed
from inventory import causes
from inventory.measure.codes import digest_of
from inventory.models import Account, Book, Entry, Movement
from shop.models import Step, Visit, Workshop

IN_VISIT, PHOTO = "visit:", "photo:visit:"
AT_ONCE = 400
FLOORS = ("compliance", "shop", "inventory")

Vehicles = Mapping[int, datetime | None]


@dataclass(frozen=True)
class Change:
    """What has changed up to line `head`.

    `vehicles` are accounts, each with the moment from which on its visits are to be read anew, None for all of them.
    """

    head: int
    noticed: tuple[int, ...] = ()  # keys of the queue
    kinds: frozenset[str] = frozenset()
    vehicles: Vehicles = field(default_factory=dict)
    new_lines: bool = False

    def __bool__(self) -> bool:
        return bool(self.noticed) or self.new_lines

    @property
    def of_all(self) -> bool:
        """Whether every visit may be judged otherwise than before."""
        return bool({PEOPLE, WORKSHOP} & self.kinds)

    @property
    def of_whole_workshop(self) -> bool:
        """Whether every visit may read otherwise than before."""
        return WORKSHOP in self.kinds


@lru_cache(maxsize=1)
def code() -> str:
    """Return a digest of the code and data that read facts and judge them."""
    paths = sorted(
        path
        for floor in FLOORS
        for path in (Path(settings.BASE_DIR) / floor).rglob("*")
        if path.suffix in (".py", ".csv") and not {"pages", "migrations", "demo"} & set(path.parts)
    )
    return digest_of(b"".join(path.read_bytes() for path in paths))


def parts(keys: Iterable[int]) -> Iterator[list[int]]:
    """Yield keys in parts that one query takes."""
    rest = list(keys)
    for start in range(0, len(rest), AT_ONCE):
        yield rest[start : start + AT_ONCE]


def since(workshop: Workshop, seq: int, *, alone: bool = False) -> Change:
    """Return what has changed since line `seq`; `alone` leaves out what was judged by itself already."""
    head = Book.objects.values_list("head_seq", flat=True).get(pk=workshop.book_id)
    queue = Noticed.objects.filter(book=workshop.book_id, **({"alone": False} if alone else {}))
    rows = list(queue.values_list("pk", "kind", "record"))
    if not rows and head == seq:
        return Change(head)
    entries = Entry.objects.filter(book=workshop.book_id, seq__gt=seq, seq__lte=head)
    touched = {record for _, kind, record in rows if kind == VISIT}
    vehicles: dict[int, datetime | None] = {}
    for account, opened_at in _of_visits(workshop, touched, entries if head > seq else None):
        there = vehicles.get(account, opened_at)
        vehicles[account] = min(there, opened_at) if there is not None else None
    vehicles.update(dict.fromkeys(_together({record for _, kind, record in rows if kind == VEHICLE})))
    if head > seq:
        vehicles.update(dict.fromkeys(_moved(entries)))
    kinds = frozenset(kind for _, kind, _ in rows)
    return Change(head, tuple(pk for pk, _, _ in rows), kinds, vehicles, head != seq)


def joined(account: str) -> Coalesce:
    """Return the key of an account, or of the one that it is read as part of."""
    return Coalesce(f"{account}__joined_to", account)


def _of_visits(
    workshop: Workshop, keys: Iterable[int], entries: QuerySet[Entry] | None
) -> Iterator[tuple[int, datetime]]:
    """Yield vehicle and opening of the visits of these keys, and of those that new lines name, or take back from."""
    which = Q(pk__in=keys)
    if entries is not None:
        named = entries.filter(Q(context__startswith=IN_VISIT) | Q(context__startswith=PHOTO))
        contexts = named.order_by().values_list("context", flat=True).distinct()
        undone = Step.objects.filter(entry__reversal__in=entries.filter(kind=Entry.REVERSE))
        which |= Q(number__in={number for one in contexts if (number := _number(one)) is not None})
        which |= Q(pk__in=set(undone.values_list("visit", flat=True)))
    yield from Visit.objects.filter(which, workshop=workshop).values_list(joined("vehicle__account"), "opened_at")


def _number(context: str) -> int | None:
    number = context.removeprefix("photo:").removeprefix(IN_VISIT).partition("/")[0]
    return int(number) if number.isdigit() else None


def _moved(entries: QuerySet[Entry]) -> set[int]:
    """Return the vehicles that new lines of no visit moved gas out of or into."""
    rows = Movement.objects.filter(entry__in=entries.exclude(context__startswith=IN_VISIT).values("pk")).order_by()
    return {
        account
        for end in ("source", "target")
        for account in rows.filter(**{f"{end}__kind": causes.VEHICLE}).values_list(joined(end), flat=True).distinct()
    }


def _together(accounts: Iterable[int]) -> set[int]:
    return set(Account.objects.filter(pk__in=accounts).values_list(Coalesce("joined_to", "pk"), flat=True))
