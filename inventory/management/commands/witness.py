"""Let the heads of the books leave the house: into a file, a folder on another machine, a mail."""

import os
from pathlib import Path
from typing import Any

from django.conf import settings
from django.core.mail import EmailMessage, get_connection
from django.core.management.base import BaseCommand, CommandError, CommandParser
from django.utils.text import slugify

from inventory.book import stamp, witness
from inventory.models import Book


class Command(BaseCommand):
    help = (
        "Write where a book's chain stands (book, line, digest, day) as JSON to FILE, or of each book to a file of "
        "its own in a FOLDER; mail it. `verify --witness FILE` asks later whether the book still is that one."
    )

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("--output", type=Path, metavar="FILE|FOLDER")
        parser.add_argument("--book", metavar="NAME", help="the one book; without it every book there is")
        parser.add_argument("--mail", action="append", default=[], metavar="ADDRESS")
        parser.add_argument(
            "--stamp", metavar="URL", help="an authority of time (RFC 3161); its token is kept beside the file"
        )

    def handle(self, *args: Any, **options: Any) -> None:
        output, addresses = options["output"], options["mail"]
        if output is None and not addresses:
            raise CommandError("Say where it goes: --output FILE, --output FOLDER or --mail ADDRESS.")
        books = self._books(options["book"])
        if output is not None and not output.is_dir() and len(books) > 1:
            names = ", ".join(book.name for book in books)
            raise CommandError(
                f"One file is of one book; say which by --book, or name a folder. The books here: {names}."
            )
        for book in books:
            seen = witness.of(book)
            token = self._stamped(seen, options["stamp"])
            if output is not None:
                path = output / _named(book, seen) if output.is_dir() else output
                stamp.beside(path).unlink(missing_ok=True)  # it would be of the witness that is replaced
                self._write(path, seen.as_json.encode())
                if token:
                    self._write(stamp.beside(path), token)
                self.stdout.write(f"{seen.book}: line {seen.line}, {seen.digest[:16] or 'empty'}, in {path}.")
            if addresses:
                self._mail(addresses, seen, _named(book, seen), token)

    def _stamped(self, seen: witness.Witness, url: str | None) -> bytes:
        """Return the token of an authority; without one a sentence says so, and the witness goes out all the same."""
        if not url:
            return b""
        try:
            token = stamp.asked(seen.as_json.encode(), url)
        except stamp.NoStamp as error:
            self.stderr.write(f"{seen.book}: no time stamp: {error} The witness stands without it.")
            return b""
        self.stdout.write(f"{seen.book}: stamped {stamp.told(seen.as_json.encode(), token).words}.")
        return token

    def _books(self, name: str | None) -> list[Book]:
        books = Book.objects.order_by("name")
        found = list(books if name is None else books.filter(name=name))
        if not found:
            known = ", ".join(books.values_list("name", flat=True)) or "none"
            raise CommandError(f"There is no such book. The books here: {known}.")
        return found

    def _write(self, path: Path, content: bytes) -> None:
        """Write whole or not at all: a witness that was there is not lost by one that could not be written."""
        part = path.with_name(f".{path.name}.part")
        try:
            with part.open("wb") as file:
                file.write(content)
                file.flush()
                os.fsync(file.fileno())
            part.replace(path)
        except OSError as error:
            part.unlink(missing_ok=True)
            raise CommandError(f"{path} cannot be written: {error.strerror}.") from None

    def _mail(self, addresses: list[str], seen: witness.Witness, name: str, token: bytes) -> None:
        if not (settings.EMAIL_HOST or settings.EMAIL_BACKEND != "django.core.mail.backends.smtp.EmailBackend"):
            raise CommandError("No mail goes out: EMAIL_HOST is not set.")
        said = (
            f"The refrigerant book {seen.book} ended on {seen.day} with line {seen.line}, digest\n{seen.digest}\n\n"
            "Keep this mail. If the book is ever asked, it can be proved with the file attached that it still is the "
            "book of that day: manage.py verify --witness FILE.\n"
        )
        message = EmailMessage(f"{seen.book}: line {seen.line} of {seen.day}", said, to=addresses)
        message.attach(name, seen.as_json, "application/json")
        if token:
            message.attach(f"{name}{stamp.SUFFIX}", token, "application/octet-stream")
        try:
            message.connection = get_connection()
            message.send()
        except OSError as error:
            raise CommandError(f"The mail did not go out: {error}.") from None
        self.stdout.write(f"{seen.book}: line {seen.line} mailed to {', '.join(addresses)}.")


def _named(book: Book, seen: witness.Witness) -> str:
    return f"{slugify(book.name) or book.uid}-{seen.day}-{seen.line}.json"
