"""Fill a database with an invented workshop's year; a second run only sets the sign-ins' password."""

import os
import secrets
from datetime import date, datetime
from typing import Any
from zoneinfo import ZoneInfo

from django.contrib.auth.hashers import make_password
from django.core.management.base import BaseCommand, CommandError, CommandParser
from django.utils import timezone

from compliance.management import invented
from shop.demo import year
from shop.demo.cast import NAME, SIGN_INS
from shop.demo.living import SEED, Living
from shop.demo.places import PLACES
from shop.models import User, Workshop


class Command(BaseCommand):
    help = "Fill an invented workshop's year that ends today."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("--place", choices=list(PLACES), default="eu", help="whose units, gases and rules")
        parser.add_argument("--until", type=date.fromisoformat, metavar="DAY", help="the last day instead of today")
        parser.add_argument("--seed", type=int, default=SEED, help="another one is another year")
        parser.add_argument("--told", action="store_true", help="only the short story of 2025 that the tests know")

    def handle(self, *args: Any, **options: Any) -> None:
        password = os.environ.get("TAREBOOK_DEMO_PASSWORD") or secrets.token_urlsafe(9)
        name = NAME if options["told"] else PLACES[options["place"]](timezone.now().date()).name
        workshop = Workshop.objects.filter(name=name).select_related("book").first()
        people = User.objects.filter(username__in=SIGN_INS)
        if workshop is None and User.objects.exists():
            raise CommandError("There are people in this database already. Use an empty one for the demonstration.")
        if workshop is not None and not any(one.has_usable_password() for one in people):
            raise CommandError("The demonstration was stopped half way. Remove its database file and start again.")
        if workshop is None:
            workshop = year.play() if options["told"] else self._live(options)
        people.update(password=make_password(password))
        self._tell(workshop, password)

    def _live(self, options: dict[str, Any]) -> Workshop:
        """Play the year that ends now, or on another day."""
        country, seed, day = options["place"], options["seed"], options["until"]
        now = datetime.now(ZoneInfo(PLACES[country](timezone.now().date()).zone)).replace(second=0, microsecond=0)
        living = Living(country, now, seed) if day is None else Living.until(country, day, seed)
        living.play(self._on_the_way)
        path = invented.ask_for_lists(living)
        self.stdout.write(f"A list of {living.place.supplier} to match with the book: {path}")
        return living.workshop

    def _on_the_way(self, living: Living, now: datetime) -> None:
        self.stdout.write(f"{now:%B %Y}: {living.workshop.visits.count()} visits so far")
        self.stdout.flush()
        invented.on_the_way(living, now)

    def _tell(self, workshop: Workshop, password: str) -> None:
        last = workshop.book.entries.order_by("-seq").values_list("recorded_at", flat=True).first()
        if last is not None:
            said = f"{workshop.name}, up to {last.astimezone(ZoneInfo(workshop.zone)):%Y-%m-%d}."
            self.stdout.write(f"{said} Sign in as {', '.join(SIGN_INS)}; the password is {password}")
