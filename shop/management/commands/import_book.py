"""Import a year kept elsewhere from a CSV file, or a whole book as export_book wrote it: all of it or nothing."""

import sys
import zipfile
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo, available_timezones

from django.core.management.base import BaseCommand, CommandError, CommandParser

from inventory.book import ledger
from inventory.models import Book
from inventory.models.access import OWNER
from shop.importing.read import NotImported
from shop.importing.whole.reading import NotABook
from shop.importing.whole.take import take
from shop.importing.write import import_file
from shop.models import Membership, User, Workshop
from shop.people.setup import free_slug
from shop.people.signing import person_called


class Command(BaseCommand):
    help = (
        "Import FILE.csv into a book, or a whole book from the FILE.zip of export_book into a new one; "
        "exit status 1 and one line per fault where anything is wrong."
    )

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("file", type=Path, metavar="FILE")
        parser.add_argument("--book", required=True, metavar="NAME")
        parser.add_argument("--create", action="store_true", help="make the book and its workshop if there is none")
        parser.add_argument("--zone", default="UTC", help="time zone of a book that is made (default UTC)")
        parser.add_argument("--owner", help="sign-in name of the person who will own a workshop that is made")

    def handle(self, *args: Any, **options: Any) -> None:
        name, create = options["book"], options["create"]
        if zipfile.is_zipfile(options["file"]):
            self._whole(options["file"], name, create=create, owner=options["owner"] or "")
            return
        book = Book.objects.filter(name=name).first()
        if book is None and not create:
            raise CommandError(f"There is no book {name}. Give --create to make it.")
        zone = book.zone if book else options["zone"]
        if zone not in available_timezones():
            raise CommandError(f"There is no time zone {zone}.")
        owner = person_called(options["owner"]) if options["owner"] else None
        if options["owner"] and owner is None:
            raise CommandError(f"Nobody signs in as {options['owner']}.")
        try:
            result = import_file(
                options["file"], ZoneInfo(zone), lambda: workshop_named(name, zone, owner), progress=self._progress
            )
        except NotImported as error:
            for fault in error.faults:
                self.stderr.write(f"line {fault.line}: {fault.reason}")
            if error.count > len(error.faults):
                self.stderr.write(f"and {error.count - len(error.faults)} more")
            raise CommandError(f"{error} Nothing was written.") from None
        self.stdout.write(
            f"{result.rows} rows read: {result.entries_new} lines written, {result.entries_known} were there already."
        )

    def _whole(self, path: Path, name: str, *, create: bool, owner: str) -> None:
        if Book.objects.filter(name=name).exists():
            raise CommandError(f"There is a book {name} already. A whole book is read as a new one: give another name.")
        if not create:
            raise CommandError(f"There is no book {name}. Give --create to make it.")
        try:
            taken = take(path, name, owner=owner, progress=self._progress)
        except NotABook as error:
            raise CommandError(f"{error} Nothing was written.") from None
        same = (
            "the chain is the one of the file" if taken.same_chain else "its book is here already: a chain of its own"
        )
        self.stdout.write(f"{taken.rows} records read, {taken.workshop.book.head_seq} lines; {same}.")
        if taken.password:
            self.stdout.write(f"Sign in as {owner}; the password is {taken.password}")

    def _progress(self, done: int, total: int) -> None:
        if sys.stderr.isatty():
            said = f"{done} of {total} rows written" if done else f"{total} rows read"
            self.stderr.write(f"\r{said}", ending="")


def workshop_named(name: str, zone: str, owner: User | None) -> Workshop:
    """Return the workshop of a book, made with what it lacks."""
    book = Book.objects.filter(name=name).first() or ledger.open_book(name, zone)
    workshop, made = Workshop.objects.get_or_create(
        book=book, defaults={"slug": free_slug(name), "name": name, "zone": book.zone}
    )
    if made and owner is not None:
        Membership.objects.create(user=owner, workshop=workshop, role=OWNER)
    return workshop
