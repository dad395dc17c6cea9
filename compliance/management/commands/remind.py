"""``manage.py remind``: send everybody who wants it the mail of what falls due, at most one a person and day."""

from typing import Any

from django.core.management.base import BaseCommand, CommandError

from compliance.due import mailing
from compliance.models import Reminder


class Command(BaseCommand):
    help = (
        "Send each person who chose it one plain mail a day of what falls due, where it says something new or a week "
        "has passed; says of each what became of it. Ends with 1 where a mail could not be sent: the next run tries."
    )

    def handle(self, *args: Any, **options: Any) -> None:
        if not mailing.mail_is_set():
            raise CommandError(mailing.NO_SERVER)
        told = []
        for one in mailing.remind_all():
            self.stdout.write(f"{one.user}: {one.words}")
            told.append(one)
        if not told:
            self.stdout.write("Nobody chose mail, so none was sent.")
        if left := sum(one.state == Reminder.NOT_SENT for one in told):
            raise CommandError(f"{left} of {len(told)} mails could not be sent. {mailing.NEXT}")
