"""Fill a database with the invented workshop's year; a second run only sets the sign-ins' password."""

import os
import secrets
from typing import Any

from django.core.management.base import BaseCommand, CommandError

from shop.demo.cast import NAME, SIGN_INS
from shop.demo.year import LINES, Year
from shop.models import User, Workshop


class Command(BaseCommand):
    help = "Fill the invented year of Port Ellery, the same every time."

    def handle(self, *args: Any, **options: Any) -> None:
        password = os.environ.get("TAREBOOK_DEMO_PASSWORD") or secrets.token_urlsafe(9)
        workshop = Workshop.objects.filter(name=NAME).select_related("book").first()
        if workshop is None:
            if User.objects.exists():
                raise CommandError("There are people in this database already. Use an empty one for the demonstration.")
            Year(password).play()
        elif workshop.book.head_seq < LINES:
            raise CommandError("The demonstration was stopped half way. Remove its database file and start again.")
        for user in User.objects.filter(username__in=SIGN_INS):
            user.set_password(password)
            user.save(update_fields=["password"])
        self.stdout.write(f"{NAME}, 2025. Sign in as {', '.join(SIGN_INS)}; the password is {password}")
