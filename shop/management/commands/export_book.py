"""Write a whole book as a ZIP of CSVs that import_book reads back."""

import sys
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser

from shop.importing.whole.give import give
from shop.models import Workshop


class Command(BaseCommand):
    help = "Write everything of a book, personal data included, as FILE.zip; import_book reads it back."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("file", type=Path, metavar="FILE.zip")
        parser.add_argument("--book", required=True, metavar="NAME")
        parser.add_argument("--without-pictures", action="store_true", help="leave the photos themselves out")

    def handle(self, *args: Any, **options: Any) -> None:
        workshop = Workshop.objects.filter(book__name=options["book"]).select_related("book").first()
        if workshop is None:
            raise CommandError(f"There is no workshop with a book {options['book']}.")
        path = options["file"]
        try:
            rows = give(workshop, path, pictures=not options["without_pictures"], progress=self._progress)
        except OSError as error:
            raise CommandError(f"{path} cannot be written: {error.strerror}.") from None
        self.stdout.write(f"{rows} records written to {path}. They hold names, telephones and plates: keep it safe.")

    def _progress(self, done: int, total: int) -> None:
        if sys.stderr.isatty():
            self.stderr.write(f"\r{done} of {total} records written", ending="")
