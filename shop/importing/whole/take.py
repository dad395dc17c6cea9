"""A whole book read from its ZIP into a new book: every record, the lines with their numbers, days and digests.

One transaction, all of it or nothing. The chain is reckoned anew from what the file says and must come out as the
file's own digests; then the book is audited like any other. Where a book with the same identity is in this database
already, the new one gets an identity of its own, and so other digests; what it says is the same.
"""

import hashlib
import re
import secrets
import zipfile
from collections.abc import Callable, Mapping
from contextlib import closing
from dataclasses import dataclass
from datetime import date
from itertools import islice
from pathlib import Path
from typing import Any
from uuid import UUID, uuid4, uuid5
from zoneinfo import available_timezones

from django.core.management.color import no_style
from django.db import DatabaseError, connection, models, transaction
from django.db.models import Model

from inventory.book import audit
from inventory.models import Book, Cylinder, Entry, Gauge, Photo, kept
from inventory.models.access import OWNER
from inventory.models.cylinders import label_code
from inventory.shelf import photos
from shop.importing.whole.chained import Lines
from shop.importing.whole.reading import Keys, NotABook, manifest, opened, rows
from shop.importing.whole.tables import AFTER, BEFORE, NAMED, PICTURES, WORKSHOP, Table
from shop.models import Certification, Membership, Step, User, Workshop
from shop.people.setup import free_slug

BATCH = 500
Progress = Callable[[int, int], None]
_KEYED_EVERYWHERE = ("AirCheck", "Step", "Watch", "WatchReading")  # their request keys are once in a database


@dataclass(frozen=True)
class Taken:
    """What came of it: the workshop, its records, whether the chain is the same, and a password where one was made."""

    workshop: Workshop
    rows: int
    same_chain: bool
    password: str = ""


def take(path: Path, name: str, *, owner: str = "", progress: Progress = lambda done, total: None) -> Taken:
    """Read a whole book into a new one called `name`; `owner` signs in as its owner. Raises NotABook."""
    with opened(path) as file:
        about = manifest(file)
        try:
            with transaction.atomic(durable=True):
                return _Taking(file, about, name, progress).take(owner)
        except DatabaseError as error:
            raise NotABook(f"The database refuses what the file says: {error}") from None
        except (KeyError, TypeError, ValueError) as error:
            raise NotABook(f"What book.json says cannot be read: {error!r}.") from None


class _Taking:
    def __init__(self, file: zipfile.ZipFile, about: Mapping[str, Any], name: str, progress: Progress) -> None:
        self.file, self.about, self.name, self.progress = file, about, name, progress
        self.counts: Mapping[str, int] = about["rows"]
        self.total = sum(self.counts.values())
        self.done = 0
        self.keys = Keys()
        self.was = UUID(about["uid"])

    def take(self, owner: str) -> Taken:
        self.workshop = self._workshop()
        self.book = self.workshop.book
        for table in BEFORE:
            self._table(table)
        lines = Lines(self.book, self.was, self.keys, self._tell)
        lines.write(self.file, self.counts)
        self._end(lines.closed)
        for table in AFTER:
            self._table(table)
        self._pictures()
        if self.book.head_seq:
            kept.begin_anew(self.book.pk, through=self.book.head_seq)
        self._proved()
        return Taken(self.workshop, self.total, self.book.uid == self.was, self._let_in(owner) if owner else "")

    def _workshop(self) -> Workshop:
        zone = self.about["zone"]
        if zone not in available_timezones():
            raise NotABook(f"There is no time zone {zone}.")
        there = Book.objects.filter(uid=self.was).exists()
        book = Book.objects.create(name=self.name, zone=zone, uid=uuid4() if there else self.was)
        said = {field.name: self.about["workshop"][field.name] for field in WORKSHOP}
        return Workshop.objects.create(book=book, slug=free_slug(self.name), name=self.name, zone=zone, **said)

    def _tell(self, more: int) -> None:
        self.done += more
        self.progress(self.done, self.total)

    def _table(self, table: Table) -> None:
        if table.later and table.name not in self.counts:
            return
        self.to_own_kind: list[tuple[Any, str, str]] = []  # a record, its column, and whom of its kind it names
        with closing(rows(self.file, table, self.keys, self.counts[table.name])) as found:
            while batch := [values for _, values in islice(found, BATCH)]:
                if table.model is User:
                    self._people(batch)
                else:
                    self._records(table, batch)
                self._tell(len(batch))
        for one, column, named in self.to_own_kind:
            setattr(one, column, self.keys.of(table.model, named))
            one.save(update_fields=[column])

    def _people(self, batch: list[dict[str, Any]]) -> None:
        """Take the people; one whom this database knows by handle is that person."""
        for values in batch:
            user = User.objects.filter(handle=values["handle"]).first()
            if user is None:
                taken = User.objects.filter(username=values["username"]).exists()
                user = User(**{**values, "username": values["handle"] if taken else values["username"]})
                user.is_active = False
                user.set_unusable_password()
                user.save()
            self.keys.learn(User, user.handle, user.pk)

    def _records(self, table: Table, batch: list[dict[str, Any]]) -> None:
        named = [values.pop("id", None) for values in batch]
        made = [self._record(table.model, values) for values in batch]
        if table.model is Certification:
            made = [one for one in made if not _is_known(one)]
        if table.model is Step:
            _keep_numbers(made, named)
        _insert(table.model, made)
        _count_on(table.model)
        if table.model in NAMED:
            for one, was in zip(made, named, strict=True):
                self.keys.learn(table.model, was or _called(one), one.pk)

    def _record(self, model: type[Model], values: dict[str, Any]) -> Model:
        to_own_kind = []
        for field in model._meta.concrete_fields:
            if isinstance(field, models.ForeignKey):
                self._refer(field, values)
                if field.related_model is model and (named := values.pop(field.attname, None)) is not None:
                    to_own_kind.append((field.attname, named))
        if model.__name__ in _KEYED_EVERYWHERE and self.was != self.book.uid:
            values["request_key"] = uuid5(self.book.uid, str(values["request_key"]))
        if "data" in values:
            values["data"] = self._instruments(values["data"])
        if model is Membership:
            values["active"] = False  # nobody gets in by a file
        if model is Cylinder and Cylinder.objects.filter(label=values["label"]).exists():
            values["label"] = label_code()
        made = model(**values)
        self.to_own_kind += [(made, *each) for each in to_own_kind]
        return made

    def _refer(self, field: "models.ForeignKey[Any, Any]", values: dict[str, Any]) -> None:
        """Fill in the book or workshop, and the key of a line of the book."""
        if field.related_model is Book and field.name == "book":
            values["book_id"] = self.book.pk
        elif field.related_model is Workshop:
            values["workshop_id"] = self.workshop.pk
        elif field.related_model is Entry and values.get(field.attname) is not None:
            values[field.attname] = self.keys.of(Entry, values[field.attname])

    def _instruments(self, data: Any) -> Any:
        """Return what a step holds, each instrument by its number in this database."""
        known = self.keys.own(Gauge)
        for answer in data.values() if isinstance(data, dict) else ():
            facts = answer.get("instrument") if isinstance(answer, dict) else None
            if isinstance(facts, dict) and str(facts.get("id")) in known:
                facts["id"] = known[str(facts["id"])]
        return data

    def _end(self, closed: date | None) -> None:
        says = self.about["closed_through"], self.about["head_line"], self.about["head_digest"]
        is_ = (closed.isoformat() if closed else None), self.book.head_seq
        if says[:2] != is_:
            raise NotABook(f"book.json says line {says[1]}, closed through {says[0]}; the lines say otherwise.")
        self.book.closed_through = closed
        self.book.save(update_fields=["head_seq", "head_digest", "closed_through"])

    def _pictures(self) -> None:
        """Keep the pictures that the file has and that photos name; each must be what its name says."""
        wanted = set(Photo.objects.filter(book=self.book, removed_at__isnull=True).values_list("digest", flat=True))
        for name in self.file.namelist():
            found = re.fullmatch(rf"{PICTURES}([0-9a-f]{{64}})\.jpg", name)
            if found and found[1] in wanted:
                content = self.file.read(name)
                if hashlib.sha256(content).hexdigest() != found[1]:
                    raise NotABook(f"{name} is not the picture that was sealed.")
                photos.keep(photos.path_of(self.book, found[1]), content)

    def _proved(self) -> None:
        if (fault := next(audit.faults(self.book), None)) is not None:
            raise NotABook(f"The book that the file makes is not sound: {fault}.")

    def _let_in(self, name: str) -> str:
        """Let the owner in: one who signs in here, or a person of the file, who gets a password."""
        user = User.objects.filter(username=name).first()
        if user is None:
            raise NotABook(f"Nobody signs in as {name}, here or in the file.")
        Membership.objects.update_or_create(user=user, workshop=self.workshop, defaults={"role": OWNER, "active": True})
        if user.is_active:
            return ""
        password = secrets.token_urlsafe(9)
        user.is_active = True
        user.set_password(password)
        user.save()
        return password


def _is_known(one: Any) -> bool:
    """Whether a person who is known here has a certificate already."""
    same = Certification.objects.filter(user_id=one.user_id, scheme=one.scheme, number=one.number)
    return same.exists()


def _called(one: Any) -> str:
    """Return what the file calls a record that was made."""
    value = one
    for name in NAMED[type(one)][0].split("__"):
        value = getattr(value, name)
    return str(value)


def _keep_numbers(made: list[Any], named: list[Any]) -> None:
    """Keep the numbers of steps where they are free here: the lines that seal their photos name them."""
    numbers = [int(was) for was in named]
    if not Step.objects.filter(pk__range=(min(numbers), max(numbers))).exists():
        for one, number in zip(made, numbers, strict=True):
            one.pk = number


def _insert(model: type[Model], made: list[Any]) -> None:
    """Insert records with the times that they have: the database would note the present for some."""
    noted = [
        field.name
        for field in model._meta.concrete_fields
        if isinstance(field, models.DateTimeField) and field.auto_now_add
    ]
    said = [[getattr(one, name) for name in noted] for one in made]
    model._default_manager.bulk_create(made)
    for one, values in zip(made, said, strict=True):
        for name, value in zip(noted, values, strict=True):
            setattr(one, name, value)
    if noted and made:
        model._default_manager.bulk_update(made, noted)


def _count_on(model: type[Model]) -> None:
    """Let a database that counts records go on behind the numbers that were kept."""
    with connection.cursor() as cursor:
        for sql in connection.ops.sequence_reset_sql(no_style(), [model]) if model is Step else ():
            cursor.execute(sql)


__all__ = ["NotABook", "Taken", "take"]
