"""Judge a large book's records, which a page has left to a process of its own."""

from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser

from compliance.findings import judging
from shop.models import Workshop


class Command(BaseCommand):
    help = "Judge what has changed in a workshop, by its key; started by a page, not by hand."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("workshop", type=int)

    def handle(self, *args: Any, **options: Any) -> None:
        workshop = Workshop.objects.filter(pk=options["workshop"]).select_related("book").first()
        if workshop is None:
            raise CommandError(f"There is no workshop {options['workshop']}.")
        judging.work(workshop)
