"""Write the usage report of a period: ``manage.py statement --book NAME --from 2025-01-01 --to 2025-12-31``."""

from argparse import ArgumentParser
from datetime import date
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError

from compliance.papers import usage
from compliance.statement import files
from compliance.statement.figures import read_statement
from compliance.statement.period import WrongPeriod, day_in
from inventory.gases.potentials import GWP_BASES
from inventory.models import Book


class Command(BaseCommand):
    help = "Write the usage report of a period as JSON, CSV, XLSX or PDF."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--book", required=True, metavar="NAME", help="the name of the book")
        parser.add_argument("--from", required=True, dest="first", metavar="YYYY-MM-DD", help="first day of the period")
        parser.add_argument("--to", required=True, dest="last", metavar="YYYY-MM-DD", help="last day of the period")
        parser.add_argument("--basis", default="AR4", help=f"GWP basis: {', '.join(GWP_BASES)} (default AR4)")
        parser.add_argument("--format", default="json", dest="form", help="json, csv, xlsx or pdf (default json)")
        parser.add_argument("--output", metavar="PATH", help="the file to write; standard output where left out")

    def handle(self, *args: Any, **options: Any) -> None:
        form = options["form"]
        if form not in files.FORMATS:
            raise CommandError(f"{form!r} is not a format. The formats are {', '.join(files.FORMATS)}.")
        book = _book(options["book"])
        first, last = _day(options["first"], "--from"), _day(options["last"], "--to")
        try:
            statement = read_statement(book, first, last, options["basis"])
        except WrongPeriod as error:
            raise CommandError(str(error)) from error
        self._write(usage.as_file(statement, form), options["output"])

    def _write(self, content: str | bytes, output: str | None) -> None:
        if output is not None:
            _write_file(Path(output), content)
        elif isinstance(content, str):
            self.stdout.write(content, ending="")
        else:
            self._write_bytes(content)

    def _write_bytes(self, content: bytes) -> None:
        if self.stdout.isatty():
            raise CommandError("A PDF or XLSX is not for the screen: name a file with --output.")
        raw = getattr(self.stdout._out, "buffer", None)
        if raw is None:
            raise CommandError("This output takes text only: name a file with --output.")
        raw.write(content)
        raw.flush()


def _book(name: str) -> Book:
    book = Book.objects.filter(name=name).first()
    if book is None:
        known = ", ".join(Book.objects.order_by("name").values_list("name", flat=True)[:20])
        raise CommandError(f"There is no book {name!r}. The books are: {known or 'none yet'}.")
    return book


def _day(text: str, option: str) -> date:
    if (day := day_in(text)) is None:
        raise CommandError(f"{option} is {text!r}; a day is written YYYY-MM-DD, such as 2025-12-31.")
    return day


def _write_file(path: Path, content: str | bytes) -> None:
    data = content.encode("utf-8") if isinstance(content, str) else content
    try:
        path.write_bytes(data)
    except OSError as error:
        raise CommandError(f"{path} cannot be written: {error.strerror}.") from error
