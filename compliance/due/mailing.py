"""Mail of what falls due: at most one a person and day, and only where it says something new or a week has passed.

The day of a mail is claimed before the mail is sent, outside any transaction that the book would wait for. Where the
server does not take it the claim is given back with the reason, and the next run tries again.
"""

import smtplib
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

from django.conf import settings
from django.core.mail import EmailMessage, get_connection
from django.db.models import QuerySet
from django.urls import reverse
from django.utils import timezone

from compliance.due.falling import A_WEEK, AHEAD, CLOSING, NEAR, PAST, TODAY, Due
from compliance.due.standing import due_of
from compliance.due.words import said
from compliance.findings.judging import today_of
from compliance.models import CalendarAddress, Reminded, Reminder
from inventory.models.access import OWNER, TECHNICIAN
from shop.models import Membership, User, Workshop

SMTP = "django.core.mail.backends.smtp.EmailBackend"
NO_SERVER = "No mail server is set, so no mail goes out: whoever runs this server names one by EMAIL_HOST."
NEXT = "The next run tries again."
HEADS = {PAST: "Past its day", TODAY: "Today", NEAR: "Within a week", AHEAD: "Later"}


@dataclass(frozen=True)
class Told:
    """What became of a person's mail: `state` is of `Reminder`, empty where none was begun; `words` a sentence."""

    user: User
    state: str
    words: str
    no_answer: bool = False  # of the mail server


@dataclass(frozen=True)
class Part:
    """What a mail says of one workshop, in the units of who reads it."""

    member: Membership
    today: date
    due: tuple[Due, ...]

    @property
    def workshop(self) -> Workshop:
        return self.member.workshop

    @property
    def told(self) -> set[str]:
        """What it says, so that a later mail can tell what is new."""
        return {f"{self.workshop.pk} {one.thing.key} {one.stage}" for one in self.due}

    def lines(self) -> Iterator[str]:
        """Yield its lines: each thing under how near it is."""
        units = self.member.units
        yield f"{in_one_line(self.workshop.name)}, {units.day_said(self.today)}"
        for stage, head in HEADS.items():
            if of_it := [one for one in self.due if one.stage == stage]:
                yield from ("", head)
                yield from (f"- {in_one_line(said(one, units, self.today))}" for one in of_it)
        if settings.ADDRESS:
            yield from ("", f"{settings.ADDRESS}{reverse('logbook', args=[self.workshop.slug])}")


def mail_is_set() -> bool:
    """Whether mail can go out at all: a server is named, or it goes somewhere else."""
    return bool(settings.EMAIL_HOST) or settings.EMAIL_BACKEND != SMTP


def wanting() -> QuerySet[User]:
    """Return the people who chose mail, have an address and may sign in."""
    chosen = Membership.objects.filter(reminded__by_mail=True, active=True, role__in=(OWNER, TECHNICIAN))
    people = User.objects.filter(is_active=True, memberships__in=chosen).exclude(email="")
    return people.distinct().order_by("pk")


def remind_all() -> Iterator[Told]:
    """Send each person who wants it the mail of the day, and say what became of it.

    A mail server that does not answer is not waited for again.
    """
    connection, no_answer = get_connection(), False
    try:
        for user in wanting():
            if no_answer:
                yield Told(user, Reminder.NOT_SENT, f"Not tried, since the mail server does not answer. {NEXT}")
                continue
            told = remind(user, connection=connection)
            no_answer = told.no_answer
            yield told
    finally:
        connection.close()


def remind(user: User, *, anyway: bool = False, connection: Any = None) -> Told:
    """Send a person the mail of the day, once; `anyway` also where it says nothing new."""
    parts = parts_of(user)
    if not any(part.due for part in parts):
        return Told(user, "", "nothing falls due.")
    now, day, units = timezone.now(), parts[0].today, parts[0].member.units
    said_now = set().union(*(part.told for part in parts))
    last = Reminder.objects.filter(user=user, state=Reminder.SENT).first()
    if not anyway and last is not None and said_now <= set(last.told) and day - last.day < A_WEEK:
        return Told(user, "", f"nothing is new since the mail of {units.day_said(last.day)}.")
    mail, is_ours = _claim(user, day, now)
    if not is_ours:
        return Told(user, "", _why_not(mail))
    return _send(mail, letter(user, parts, connection), said_now, sum(len(part.due) for part in parts))


def parts_of(user: User) -> list[Part]:
    """Return what the mail of a person says, by workshop."""
    rows = Membership.objects.filter(user=user, reminded__by_mail=True, active=True, role__in=(OWNER, TECHNICIAN))
    return [_part(one) for one in rows.select_related("workshop__book").order_by("pk")]


def _part(member: Membership) -> Part:
    today = today_of(member.workshop)
    return Part(member, today, tuple(due_for(member, today)))


def due_for(member: Membership, today: date) -> Iterable[Due]:
    """Yield what falls due as a person is told it: the closing of a year is the owner's alone."""
    return (one for one in due_of(member.workshop, today) if member.role == OWNER or one.thing.kind != CLOSING)


def letter(user: User, parts: Sequence[Part], connection: Any = None) -> EmailMessage:
    """Return the mail: plain text."""
    shown = [part for part in parts if part.due]
    many = sum(len(part.due) for part in shown)
    past = sum(one.is_past for part in shown for one in part.due)
    names = ", ".join(in_one_line(part.workshop.name) for part in shown)
    subject = f"{names}: {many} thing{'' if many == 1 else 's'} due" + (f", {past} past the day" if past else "")
    blocks = ["\n".join(part.lines()) for part in shown]
    blocks.append("You chose this mail in the book, under Settings, Reminders, and end it there.")
    return EmailMessage(subject, "\n\n\n".join(blocks) + "\n", to=[user.email], connection=connection)


def in_one_line(text: str) -> str:
    """Return a text without breaks and what a screen does not show, as a heading or one line of a mail needs it."""
    return " ".join("".join(char if char.isprintable() else " " for char in text).split())


def _claim(user: User, day: date, now: datetime) -> tuple[Reminder, bool]:
    """Return the mail of the day, and whether it is this caller's to send."""
    mail, made = Reminder.objects.get_or_create(user=user, day=day, defaults={"at": now})
    if made:
        return mail, True
    free = Reminder.objects.filter(pk=mail.pk, state=Reminder.NOT_SENT)
    return mail, bool(free.update(state=Reminder.BEGUN, at=now, why=""))


def _send(mail: Reminder, message: EmailMessage, told: set[str], many: int) -> Told:
    mail.state, mail.why, no_answer = Reminder.NOT_SENT, "It was broken off.", False
    try:
        message.send()
        mail.state, mail.why, mail.told = Reminder.SENT, "", sorted(told)
    except OSError as error:  # of the net, and of the server's own answers
        mail.why, no_answer = why_away(error), not isinstance(error, smtplib.SMTPException)
    finally:
        mail.save()
    if mail.state == Reminder.SENT:
        return Told(mail.user, mail.state, f"{many} thing{'' if many == 1 else 's'} due, sent to {mail.user.email}.")
    return Told(mail.user, mail.state, f"{mail.why} {NEXT}", no_answer)


def why_away(error: OSError) -> str:
    """Return why a mail server did not take a mail, as a sentence without anything secret."""
    server = settings.EMAIL_HOST or "of this machine"
    if isinstance(error, smtplib.SMTPAuthenticationError):
        return f"The mail server {server} did not take the name and the password."
    if isinstance(error, smtplib.SMTPRecipientsRefused):
        return f"The mail server {server} did not take the address that the mail goes to."
    if isinstance(error, smtplib.SMTPResponseException):
        return f"The mail server {server} did not take the mail; it answered {error.smtp_code}."
    return f"The mail server {server} does not answer."


def _why_not(mail: Reminder) -> str:
    if mail.state == Reminder.SENT:
        return "the mail of today has been sent already."
    return "the mail of today was begun and broken off; whether it went out is not known. There is one tomorrow."


def stored_of(user: User, workshop: Workshop) -> dict[str, Any]:
    """Return what is stored of a person's reminders, as plain data for JSON."""
    member = Membership.objects.get(user=user, workshop=workshop)
    addresses = CalendarAddress.objects.filter(member=member)
    return {
        "reminders": {
            "by_mail": Reminded.objects.filter(member=member, by_mail=True).exists(),
            "mails": [{"day": one.day.isoformat(), "state": one.state} for one in user.reminders.all()],
            "calendar_addresses": [
                {"made_at": _plain(one.made_at), "revoked_at": _plain(one.revoked_at)} for one in addresses
            ],
        }
    }


def _plain(moment: datetime | None) -> str | None:
    return moment.isoformat(timespec="seconds") if moment else None
