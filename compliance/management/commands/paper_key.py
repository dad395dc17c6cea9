"""The key with which a workshop's papers are signed: its certificate for others, and a new key."""

from pathlib import Path
from typing import Any

from cryptography.hazmat.primitives.serialization import Encoding
from django.core.management.base import BaseCommand, CommandError, CommandParser

from compliance.documents import signet
from inventory.models import Book


class Command(BaseCommand):
    help = (
        "Say by which key the papers of a book are signed, write its certificates for others, or sign with a new key "
        "from now on: the one before is destroyed, its certificate is kept, papers keep their signature."
    )

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("--book", required=True, metavar="NAME")
        parser.add_argument("--certificate", type=Path, metavar="FILE", help="write the certificates to it")
        parser.add_argument("--new", action="store_true", help="sign with a new key from now on")

    def handle(self, *args: Any, **options: Any) -> None:
        book = Book.objects.filter(name=options["book"]).first()
        if book is None:
            raise CommandError(f"There is no book {options['book']}.")
        try:
            own = signet.renew(book) if options["new"] else signet.signet_of(book)
            found = signet.certificates_of(book)
        except signet.NoKey as error:
            raise CommandError(str(error)) from None
        self.stdout.write(f"Papers of {book.name} are signed by the key {own.fingerprint}.")
        if (path := options["certificate"]) is not None:
            try:
                path.write_bytes(b"".join(one.public_bytes(Encoding.PEM) for one in found))
            except OSError as error:
                raise CommandError(f"{path} cannot be written: {error.strerror}.") from None
            self.stdout.write(f"{len(found)} certificate{'s' if len(found) > 1 else ''} written to {path}.")
