"""Bring a copy back into an empty place."""

from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser

from shop.keeping.databases import Unkept
from shop.keeping.restore import restore


class Command(BaseCommand):
    help = (
        "Bring FILE, made by backup, back into the empty place of a database's address, bring it up to date and prove "
        "it. Ends with 1 where anything stands there, where the file is damaged or what it holds is not as written."
    )
    requires_system_checks = ()  # the database of the settings is not asked

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("file", type=Path, metavar="FILE")
        parser.add_argument(
            "--database", required=True, metavar="URL", help="sqlite:///path or postgres://user@host/name"
        )
        parser.add_argument(
            "--witness", action="append", default=[], metavar="FILE", help="what the book must still be"
        )

    def handle(self, *args: Any, **options: Any) -> None:
        try:
            restored = restore(options["file"], options["database"], witnesses=tuple(options["witness"]))
        except Unkept as error:
            raise CommandError(str(error)) from None
        for sentence in restored.said:
            self.stdout.write(sentence)
        if restored.fault:
            raise CommandError(f"It is there, but it is not as it was written: {restored.fault}")
