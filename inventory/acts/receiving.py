"""A cylinder comes onto the shelf, with its first content where it has one."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date

from django.db import transaction

from inventory import causes
from inventory.acts.describing import refuse_second_serial
from inventory.book import emptymass, ledger, weighing
from inventory.book.draft import Draft, Line
from inventory.book.ledger import Act
from inventory.book.refusals import Refused
from inventory.book.weighing import Gross, parts_mg
from inventory.measure import uncertainty
from inventory.models import Book, Cylinder, Entry, Partner, Scale, Weighing


@dataclass(frozen=True)
class NewCylinder:
    """What a cylinder is, as entered when it is received; masses in milligrams, SI otherwise."""

    serial: str
    kind: str
    refrigerant: str
    grade: str
    tare_mg: int
    tare_u_mg: int = 0
    tare_source: str = "stamped"
    water_capacity_m3: float | None = None
    filling_limit_mg: int | None = None
    service_pressure_pa: float | None = None
    requalify_by: date | None = None
    place: str = ""
    can_count: int | None = None
    can_content_mg: int | None = None
    machine_limit_mg: int | None = None
    recycles: bool = False
    paper_number: str = ""
    paper_mass_mg: int | None = None
    typed: Mapping[str, str] = field(default_factory=dict)


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


@dataclass(frozen=True)
class FirstReading:
    """The gross reading at receipt."""

    scale: Scale
    gross_mg: int
    typed: str


def receive_cylinder(
    book: Book, act: Act, new: NewCylinder, first: First | None = None, reading: FirstReading | None = None
) -> Cylinder:
    """Put a cylinder on the shelf, with its first content where it has one; without `first` it comes empty."""

    def build(draft: Draft) -> None:
        refuse_second_serial(book, new.serial)
        cylinder = create_cylinder(draft, new)
        gross = Gross(cylinder, reading.scale, reading.gross_mg, reading.typed) if reading is not None else None
        if first is not None:
            _first_content(draft, cylinder, first, gross)
        elif gross is not None:
            weighing.settle(draft, gross, Weighing.SINGLE)

    with transaction.atomic(durable=True):
        return brought_in(ledger.write(book, act, build))


def create_cylinder(draft: Draft, new: NewCylinder) -> Cylinder:
    """Enter a cylinder with an account and an empty mass of its own; the entry being built is then about it."""
    account = ledger.open_account(draft.book, causes.CYLINDER, new.serial)
    state = "suspect" if new.grade == "suspect" else "ready"
    facts = {**vars(new), "typed": dict(new.typed)}
    cylinder = Cylinder.objects.create(account=account, state=state, **facts)
    emptymass.note_version(cylinder, draft.occurred_at)
    about(draft, cylinder)
    return cylinder


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
    else:
        mass_mg, u = first.mass_mg, uncertainty.U(first.u_mg / 1000, 0.0)
    if mass_mg <= 0:
        raise Refused(f"{cylinder} would hold nothing by this. Receive it as empty, or read the scale again.")
    source = first.partner.account if first.partner else draft.account(causes.OPENING)
    content, scale = (cylinder.refrigerant, cylinder.grade, mass_mg), gross.scale if gross and by_weight else None
    draft.move(Line(first.cause, source, cylinder.account, *content, first.basis, *parts_mg(u), scale=scale))
    if gross is not None and not by_weight:
        weighing.settle(draft, gross, Weighing.SINGLE)
