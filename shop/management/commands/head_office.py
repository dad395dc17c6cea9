"""Let one person read every workshop's book; for whoever runs the machine of a chain."""

from argparse import ArgumentParser
from typing import Any

from django.core.management.base import BaseCommand, CommandError
from django.db import transaction

from inventory.models.access import READER
from shop.models import Membership, Workshop
from shop.people.signing import person_called


class Command(BaseCommand):
    help = "Make one person a reader of every workshop where they are nothing yet."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("name", help="the name that the person signs in with")

    @transaction.atomic
    def handle(self, *args: Any, **options: Any) -> None:
        person = person_called(options["name"])
        if person is None:
            raise CommandError(f"Nobody signs in as {options['name']}.")
        there = Workshop.objects.exclude(memberships__user=person).order_by("name", "pk")
        for workshop in there:
            Membership.objects.create(user=person, workshop=workshop, role=READER)
            self.stdout.write(f"{person} reads {workshop.name}.")
        if not there:
            self.stdout.write(f"{person} belongs to every workshop already; a role that an owner took away stays so.")
