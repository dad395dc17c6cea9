"""Copy everything while it is served, prove the copy, and say which file it is."""

from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser

from shop.keeping.backup import backup
from shop.keeping.databases import Unkept


class Command(BaseCommand):
    help = (
        "Copy database and photos into a new file of FOLDER while the book is served, prove the copy by verify, and "
        "print the file. Ends with 1 where the copy is not proved; it is kept then under a name that says so."
    )
    requires_system_checks = ()  # a copy must be possible while other parts are being put right

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("--output", type=Path, required=True, metavar="FOLDER")
        parser.add_argument("--keep", type=int, metavar="N", help="leave only the newest N copies of these books there")
        parser.add_argument(
            "--with-secrets",
            action="store_true",
            help="put in the secret files beside the database, too: guard it well",
        )

    def handle(self, *args: Any, **options: Any) -> None:
        if options["keep"] is not None and options["keep"] < 1:
            raise CommandError("--keep leaves at least 1 copy.")
        try:
            made = backup(options["output"], keep=options["keep"], with_secrets=options["with_secrets"])
        except Unkept as error:
            raise CommandError(str(error)) from None
        self.stdout.write(str(made.file))
        for head in made.manifest.books:
            self.stderr.write(f"{head.book}: up to line {head.line}.")
        self.stderr.write(
            f"Proved by {made.manifest.proved}." if not made.fault else "It is kept, and nothing was put away."
        )
        for name in made.manifest.left_out:
            self.stderr.write(f"Not in it: {name}.")
        for path in made.put_away:
            self.stderr.write(f"Put away: {path}.")
        if made.fault:
            raise CommandError(f"The copy is not proved: {made.fault}")
