"""The files of a whole book: one for each kind of record, each with its columns, and how a value is written in one.

A record is named by what it is called in its book (an account and a scale by number, a line by its number, a person by
handle), so that a file means the same in another database. The README beside `shop.importing` lists them for whoever
reads such files; a test compares it with these tables.
"""

import json
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import UTC, date, datetime
from typing import Any, TypeAlias, cast
from uuid import UUID

from django.db import models
from django.db.models import Model, QuerySet

from inventory.models import (
    Account,
    AirCheck,
    Analysis,
    Book,
    Consignment,
    Cylinder,
    Entry,
    Gauge,
    Movement,
    Partner,
    PartnerList,
    Photo,
    Remark,
    Scale,
    Tare,
    Weighing,
)
from inventory.models.likeness import LikenessField
from inventory.output.files import is_formula
from shop.models import (
    Certification,
    Conversion,
    Customer,
    InstrumentCheck,
    Joining,
    Membership,
    Step,
    User,
    Vehicle,
    Visit,
    Watch,
    WatchReading,
    Workshop,
)

AnyField: TypeAlias = "models.Field[Any, Any]"

FORMAT, VERSION = "tarebook book", 1
MANIFEST = "book.json"
PICTURES = "photos/"  # before the digest, the name of a picture in the file

# How a reference to a record is written: the columns, from that record on, that name it in its book.
NAMED: dict[type[Model], tuple[str, ...]] = {
    Account: ("number",),
    Scale: ("number",),
    Gauge: ("id",),
    Entry: ("seq",),
    Movement: ("entry__seq", "line"),
    Cylinder: ("account__number",),
    Vehicle: ("account__number",),
    Partner: ("account__number",),
    User: ("handle",),
    Customer: ("id",),
    Visit: ("number",),
    Step: ("id",),
    Watch: ("id",),
    Joining: ("vehicle__account__number",),
}
OWN_ID = (Customer, Gauge, Step, Watch)  # whose number in the database that wrote them is a column of theirs


@dataclass(frozen=True)
class Table:
    """One file: `path` leads from a row to its book, `order` is how rows stand, `left_out` what is not written."""

    name: str
    what: str
    model: type[Model]
    path: str
    order: tuple[str, ...] = ("pk",)
    left_out: tuple[str, ...] = ()
    later: bool = False  # files of earlier releases are without it

    @property
    def fields(self) -> "tuple[AnyField, ...]":
        """Return the columns of the database that are written."""
        return tuple(field for field in self.model._meta.concrete_fields if self._is_written(field))

    def _is_written(self, field: "AnyField") -> bool:
        if field.primary_key:
            return self.model in OWN_ID
        beyond = field.related_model in (Book, Workshop)
        return not (beyond or isinstance(field, LikenessField) or field.name in self.left_out)

    @property
    def columns(self) -> tuple[str, ...]:
        """Return the names in the file's first row."""
        return tuple(field.name for field in self.fields)

    def rows(self, book: Book) -> "QuerySet[Any]":
        """Return the records of a book, in the order in which they are written."""
        return self.model._default_manager.filter(**{self.path: book}).order_by(*self.order).distinct()

    def written(self, book: Book) -> Iterator[list[object]]:
        """Yield each record as the values of its row."""
        asked = [_asked(field) for field in self.fields]
        names = [name for names in asked for name in names]
        for values in self.rows(book).values_list(*names).iterator(chunk_size=2_000):
            left = iter(values)
            parts = [[next(left) for _ in names] for names in asked]
            yield [_as_text(part, field) for part, field in zip(parts, self.fields, strict=True)]


def _asked(field: "AnyField") -> tuple[str, ...]:
    """Return what is asked of the database for one column."""
    if field.related_model is None:
        return (field.name,)
    return tuple(f"{field.name}__{name}" for name in NAMED[_model(field)])


def _model(field: "AnyField") -> type[Model]:
    return cast("type[Model]", field.related_model)


def _as_text(values: list[Any], field: "AnyField") -> object:
    value = values[0]
    if value is None:
        return None
    if len(values) > 1:
        return ":".join(map(str, values))
    if isinstance(field, models.JSONField):
        return json.dumps(value, ensure_ascii=False, separators=(",", ":"))
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, datetime):
        return value.astimezone(UTC).isoformat()
    if isinstance(value, (date, UUID)):
        return str(value)
    if isinstance(value, float):
        return repr(value)
    return guarded(value) if isinstance(value, str) else value


def guarded(text: str) -> str:
    """Return a text that begins with an apostrophe with one more; the writer sets one before a formula."""
    return f"'{text}" if text.startswith("'") else text


def unguarded(text: str) -> str:
    """Return a text without the apostrophe that stands before it in the file."""
    rest = text[1:]
    return rest if text[:1] == "'" and (rest[:1] == "'" or is_formula(rest)) else text


def value_of(text: str, field: "AnyField") -> Any:
    """Return the value of a cell for its column, None where it is empty; raises ValueError."""
    if text == "":
        return None if field.null else "" if isinstance(field, (models.CharField, models.TextField)) else _empty()
    if isinstance(field, models.JSONField):
        return json.loads(text)
    if isinstance(field, models.BooleanField):
        return {"yes": True, "no": False}[text]
    if isinstance(field, models.DateTimeField):
        return _aware(datetime.fromisoformat(text))
    if isinstance(field, models.DateField):
        return date.fromisoformat(text)
    if isinstance(field, models.UUIDField):
        return UUID(text)
    if isinstance(field, models.FloatField):
        return float(text)
    if isinstance(field, models.IntegerField):
        return int(text)
    return _not_longer(unguarded(text), field)


def _empty() -> Any:
    raise ValueError("it is empty")


def _aware(moment: datetime) -> datetime:
    if moment.tzinfo is None:
        raise ValueError("the time has no zone")
    return moment


def _not_longer(text: str, field: "AnyField") -> str:
    longest = getattr(field, "max_length", None)
    if longest is not None and len(text) > longest:
        raise ValueError(f"it has more than {longest} characters")
    return text


_BOOK, _SHOP = "book", "workshop__book"

ACCOUNTS = Table("accounts", "what mass moves between", Account, _BOOK, ("number",))
SCALES = Table("scales", "scales", Scale, _BOOK, ("number",))
PEOPLE = Table(
    "people",
    "people who work or worked here; no password, no PIN",
    User,
    "memberships__workshop__book",
    left_out=(
        "password",
        "last_login",
        "is_superuser",
        "first_name",
        "last_name",
        "is_staff",
        "is_active",
        "date_joined",
        "pin",
        "pin_tries",
    ),
)
ENTRIES = Table("entries", "the numbered lines", Entry, _BOOK, ("seq",))
MOVEMENTS = Table("movements", "the masses that a line moved", Movement, _BOOK, ("entry__seq", "line"))
WEIGHINGS = Table("weighings", "the readings of a line", Weighing, "entry__book", ("entry__seq", "line"))
STEPS = Table("steps", "what was done in a visit", Step, "visit__workshop__book")
PHOTOS = Table("photos", "photos, each sealed by a line", Photo, _BOOK)

BEFORE = (
    ACCOUNTS,
    SCALES,
    Table("gauges", "other instruments", Gauge, _BOOK),
    PEOPLE,
    Table("memberships", "what each person may do", Membership, _SHOP, left_out=("active",)),
    Table("certificates", "certificates of people", Certification, "user__memberships__workshop__book"),
    Table("customers", "owners of vehicles", Customer, _SHOP),
    Table("cylinders", "what stands on the shelf", Cylinder, "account__book"),
    Table("tares", "empty masses of cylinders, each since when", Tare, "cylinder__account__book"),
    Table("partners", "suppliers, reclaimers and others outside", Partner, "account__book", left_out=("sister",)),
    Table("vehicles", "vehicles", Vehicle, "account__book"),
)
LINES = (ENTRIES, MOVEMENTS, WEIGHINGS)
AFTER = (
    Table("remarks", "free words beside a line", Remark, "entry__book"),
    Table("analyses", "what an identifier showed", Analysis, "account__book"),
    Table("partner-lists", "what partners' own lists say", PartnerList, "partner__account__book", later=True),
    Table("consignments", "what was sent away, with its papers", Consignment, "entry__book"),
    Table("air-checks", "cylinders judged for air", AirCheck, "account__book"),
    Table("scale-checks", "checks of scales", InstrumentCheck, "scale__book", left_out=("gauge",)),
    Table("gauge-checks", "checks of other instruments", InstrumentCheck, "gauge__book", left_out=("scale",)),
    Table("visits", "visits of vehicles", Visit, _SHOP, ("number",)),
    STEPS,
    Table("conversions", "changes of refrigerant", Conversion, "vehicle__account__book"),
    Table("watches", "holds and waits that ran by a clock", Watch, "visit__workshop__book"),
    Table("watch-readings", "what was read while they ran", WatchReading, "watch__visit__workshop__book"),
    Table("joinings", "two records of one vehicle", Joining, "vehicle__account__book"),
    Table(
        "joining-visits",
        "visits that went along with a joined record",
        Joining.visits.through,
        "joining__vehicle__account__book",
    ),
    PHOTOS,
)
TABLES = (*BEFORE, *LINES, *AFTER)
WORKSHOP = tuple(
    field
    for field in Workshop._meta.concrete_fields
    if not field.primary_key
    and field.name not in ("book", "slug", "name", "zone", "set_up", "here_alone", "second_factor")
)
