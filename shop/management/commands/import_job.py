"""Work on an import that a page has started."""

from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser

from shop.importing import jobs as importjobs
from shop.models import ImportJob


class Command(BaseCommand):
    help = "Work on one waiting import, by its number; started by the page, not by hand."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("job", type=int)

    def handle(self, *args: Any, **options: Any) -> None:
        job = ImportJob.objects.filter(pk=options["job"]).select_related("workshop__book").first()
        if job is None:
            raise CommandError(f"There is no import {options['job']}.")
        importjobs.work(job)
