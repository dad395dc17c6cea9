"""``manage.py verify``: recompute the books from their lines and name the first wrong row."""

from argparse import ArgumentParser
from typing import Any

from django.core.management.base import BaseCommand, CommandError

from inventory import audit, guards
from inventory.models import Book


class Command(BaseCommand):
    help = "Recompute the digests and holdings of every book; ends with 1 and the first wrong row where one is wrong."
    requires_system_checks = ()  # a book can be proved while other parts are being put right

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--book", help="name of the one book to verify; all books without it")
        parser.add_argument("--database", default="default", help="which database of the settings to read")

    def handle(self, *args: Any, book: str | None, database: str, **options: Any) -> None:
        with audit.snapshot(database):
            off = "".join(f" The guard {name} is not in the database." for name in guards.missing(database)[:1])
            books = self._books(book, database)
            if not books:
                self.stdout.write("There is no book yet.")
            for one in books:
                for fault in audit.faults(one, database):
                    raise CommandError(f"{one.name}, {fault}.{off}")
                count = audit.count(one, database)
                self.stdout.write(
                    f"{one.name}: {count.entries} lines with {count.movements} movements and {count.weighings} "
                    f"weighings are as they were written; head {one.head_seq}, {one.head_digest[:16] or 'empty'}."
                )
            if off:
                raise CommandError(f"No row is wrong, yet rows could be changed.{off} manage.py migrate puts it back.")

    def _books(self, name: str | None, database: str) -> list[Book]:
        books = Book.objects.using(database).order_by("name")
        if name is None:
            return list(books)
        if not (found := list(books.filter(name=name))):
            known = ", ".join(books.values_list("name", flat=True)) or "none"
            raise CommandError(f"There is no book named {name!r}. The books here: {known}.")
        return found
