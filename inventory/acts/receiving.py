"""A cylinder comes onto the shelf, with its first content where it has one."""

from dataclasses import dataclass

from django.db import transaction

from inventory import causes
from inventory.acts.describing import refuse_second_serial
from inventory.book import emptymass, ledger, weighing
from inventory.book.draft import Draft, Line
from inventory.book.ledger import Act
from inventory.book.refusals import Refused
from inventory.book.weighing import Gross, parts_mg
from inventory.measure import uncertainty
from inventory.models import Book, Cylinder, Entry, Partner, Weighing


@dataclass(frozen=True)
class First:
    """How a cylinder's first content is known.

    `basis` is *single* (gross less tare, by the weighing given), *paper*, *count* or *machine*; the last three give
    `mass_mg` and the standard uncertainty `u_mg`.
    """

    cause: str
    basis: str
    partner: Partner | None = None
    mass_mg: int = 0
    u_mg: int = 0


def receive_cylinder(
    book: Book, act: Act, new: Cylinder, first: First | None = None, reading: Gross | None = None
) -> Cylinder:
    """Put a cylinder on the shelf, with its first content where it has one; without `first` it comes empty.

    `new` is unsaved and says what the cylinder is; `reading` is of it.
    """

    def build(draft: Draft) -> None:
        refuse_second_serial(book, new.serial)
        create_cylinder(draft, new)
        if first is not None:
            _first_content(draft, new, first, reading)
        elif reading is not None:
            weighing.settle(draft, reading, Weighing.SINGLE)

    with transaction.atomic(durable=True):
        return brought_in(ledger.write(book, act, build))


def create_cylinder(draft: Draft, new: Cylinder) -> Cylinder:
    """Enter a cylinder with an account and an empty mass of its own; the entry being built is then about it."""
    new.account = ledger.open_account(draft.book, causes.CYLINDER, new.serial)
    new.state = "suspect" if new.grade == "suspect" else "ready"
    new.save()
    emptymass.note_version(new, draft.occurred_at)
    about(draft, new)
    return new


def about(draft: Draft, cylinder: Cylinder) -> None:
    """Let the entry being built be the one that brings a cylinder in; `brought_in` finds it by that."""
    draft.context = f"cylinder:{cylinder.account.number}"


def brought_in(entry: Entry) -> Cylinder:
    """Return the cylinder that an entry brought onto the shelf."""
    number = int(entry.context.removeprefix("cylinder:"))
    return Cylinder.objects.select_related("account").get(account__book=entry.book_id, account__number=number)


def _first_content(draft: Draft, cylinder: Cylinder, first: First, gross: Gross | None) -> None:
    by_weight = first.basis == "single"
    if by_weight:
        if gross is None:
            raise Refused("A mass by one weighing needs the gross reading.")
        mass_mg, u = weighing.single_net(draft, gross)
        if mass_mg == 0 and first.cause == "opening-stock":
            return  # it stood here empty: its reading says so
    else:
        mass_mg, u = first.mass_mg, uncertainty.U(first.u_mg / 1000, 0.0)
    if mass_mg <= 0:
        raise Refused(f"{cylinder} would hold nothing by this. Receive it as empty, or read the scale again.")
    source = first.partner.account if first.partner else draft.account(causes.OPENING)
    content, scale = (cylinder.refrigerant, cylinder.grade, mass_mg), gross.scale if gross and by_weight else None
    draft.move(Line(first.cause, source, cylinder.account, *content, first.basis, *parts_mg(u), scale=scale))
    if gross is not None and not by_weight:
        weighing.settle(draft, gross, Weighing.SINGLE)
