"""Say on the console with which code the first owner sets the book up."""

from typing import Any

from django.core.management.base import BaseCommand

from shop.people import setup


class Command(BaseCommand):
    help = "Print the code that the first set-up page asks for, while nobody can sign in yet."

    def handle(self, *args: Any, **options: Any) -> None:
        if setup.is_first_run():
            self.stdout.write(
                f"Nobody can sign in yet. Open that address; the code it asks for is {setup.setup_code()}"
            )
        else:
            self.stdout.write("This book has been set up: sign in.")
