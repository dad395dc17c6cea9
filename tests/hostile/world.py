"""Two workshops in one database: the invented one that is attacked, and a stranger's; and what may not change in it."""

import hashlib
from collections.abc import Iterator
from typing import Any

from django.apps import apps

STRANGER, PASSWORD = "stranger", "given-by-hand-1"  # noqa: S105 - of an invented book
FLOORS = ("inventory", "shop", "compliance")
ABOUT_ONESELF = {"last_login", "pin", "pin_tries", "password", "own_units", "is_active"}
DERIVED = {"Judged", "KeptVisit", "Noticed", "Finding", "Opening", "Totals", "Backup"}  # reckoned anew by whoever looks
OWNERS = {
    "Membership": (),
    "Certification": (),
    "Workshop": (),
    "Scale": ("calibrated_until",),  # a check is entered by whoever writes
    "Gauge": ("calibrated_until",),
    "Decision": (),
    "ImportJob": (),
}
"""What the owner alone may change, and which columns of it others may."""
Rows = dict[tuple[str, int], str]


def furnish() -> str:
    """Enter a stranger with a workshop of their own; return the slug of the workshop that is attacked."""
    from shop.models import User, Workshop
    from shop.people.setup import create_workshop

    home = Workshop.objects.order_by("pk").first()
    assert home
    if not User.objects.filter(username=STRANGER).exists():
        person = User.objects.create_user(STRANGER, password=PASSWORD, display_name="Somebody else")
        create_workshop(
            name="Far away", address="", zone="Europe/Paris", altitude_m=None, jurisdiction="eu", owner=person
        )
    return str(home.slug)


def marks(slug: str) -> list[str]:
    """Return what stands in the book and may be read by its people alone: names, numbers, plates."""
    from inventory.models import Account, Cylinder
    from shop.models import Customer, Membership, Vehicle

    here = {"account__book__workshop__slug": slug}
    found = {
        *Account.objects.filter(book__workshop__slug=slug).values_list("label", flat=True),
        *Cylinder.objects.filter(**here).values_list("serial", flat=True),
        *Vehicle.objects.filter(**here).values_list("registration", flat=True),
        *Customer.objects.filter(workshop__slug=slug).values_list("name", flat=True),
        *Membership.objects.filter(workshop__slug=slug).values_list("user__handle", flat=True),
    }
    return sorted(one for one in found if len(one) > 5 and one not in ("opening", "process", "unexplained"))


def standing(models: dict[str, tuple[str, ...]] | None = None) -> Rows:
    """Return a digest of every row of the invented workshop's tables, or of those named, the stranger's left out."""
    found: Rows = {}
    for model in apps.get_models():
        name = model.__name__
        if model._meta.app_label not in FLOORS or name in DERIVED or (models is not None and name not in models):
            continue
        left = ABOUT_ONESELF | set((models or {}).get(name, ()))
        columns = [one.attname for one in model._meta.concrete_fields if one.name not in left]
        for pk, *values in model._base_manager.order_by("pk").values_list("pk", *columns):
            found[name, pk] = hashlib.sha256(repr(values).encode()).hexdigest()
    return found


def own_of_stranger(rows: Rows) -> set[tuple[str, int]]:
    """Return those of some rows that belong to the stranger's workshop."""
    from inventory.models import Book
    from shop.models import Membership, User, Workshop

    shops = Workshop.objects.filter(memberships__user__username=STRANGER)
    books = Book.objects.filter(workshop__in=shops)
    own = {("Workshop", pk) for pk in shops.values_list("pk", flat=True)}
    own |= {("Book", pk) for pk in books.values_list("pk", flat=True)}
    own |= {("User", pk) for pk in User.objects.filter(username=STRANGER).values_list("pk", flat=True)}
    own |= {("Membership", pk) for pk in Membership.objects.filter(workshop__in=shops).values_list("pk", flat=True)}
    return own | {key for key in rows if _reaches(key, set(books), set(shops))}


def _reaches(key: tuple[str, int], books: set[Any], shops: set[Any], depth: int = 3) -> bool:
    name, pk = key
    model = next(one for one in apps.get_models() if one.__name__ == name and one._meta.app_label in FLOORS)
    row = model._base_manager.filter(pk=pk).first()
    return row is not None and any(one in books or one in shops for one in _above(row, depth))


def _above(row: Any, depth: int) -> Iterator[Any]:
    yield row
    for column in row._meta.concrete_fields if depth else ():
        if column.is_relation and (one := getattr(row, column.name)) is not None:
            yield from _above(one, depth - 1)


def changed(before: Rows, after: Rows) -> list[str]:
    """Return which rows differ; new rows of the stranger's own workshop are none."""
    keys = [key for key in {*before, *after} if before.get(key) != after.get(key)]
    own = own_of_stranger(dict.fromkeys(keys, ""))
    return sorted(f"{name} {pk}" for name, pk in keys if (name, pk) not in own)


def lines_of(slug: str, who: str) -> int:
    """Return how many lines somebody has written in the book of a workshop."""
    from inventory.models import Entry
    from shop.models import User

    handle = User.objects.filter(username=who).values_list("handle", flat=True).first() or "-"
    return Entry.objects.filter(book__workshop__slug=slug, actor=handle).count()
