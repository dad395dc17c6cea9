"""Let in someone who lost the telephone that shows their codes; for whoever runs the machine."""

from argparse import ArgumentParser
from typing import Any

from django.core.management.base import BaseCommand, CommandError
from django_otp.plugins.otp_totp.models import TOTPDevice

from shop.people.signing import person_called


class Command(BaseCommand):
    help = "Take the second factor off one person's sign-in."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("name", help="the name that the person signs in with")

    def handle(self, *args: Any, **options: Any) -> None:
        person = person_called(options["name"])
        if person is None:
            raise CommandError(f"Nobody signs in as {options['name']}.")
        count, _ = TOTPDevice.objects.filter(user=person).delete()
        self.stdout.write(f"{count} taken off: {person} signs in with the password alone.")
