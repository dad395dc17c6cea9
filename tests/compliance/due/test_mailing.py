"""Mail of what falls due, read from the folder that Django's file backend puts it in."""

import socket
from collections.abc import Callable
from datetime import UTC, date, datetime, timedelta
from email import policy
from email.message import EmailMessage
from email.parser import BytesParser
from io import StringIO
from pathlib import Path
from typing import Any

import pytest
from django.core.management import CommandError, call_command

from compliance.due import feed, mailing
from compliance.models import Reminded, Reminder
from inventory.models import Scale
from shop.models import Membership
from shop.people.privacy import person_data

pytestmark = pytest.mark.django_db
MORNING = datetime(2026, 3, 4, 7, tzinfo=UTC)
FOLDER = "django.core.mail.backends.filebased.EmailBackend"
DAY = timedelta(days=1)


@pytest.fixture
def mails(settings: Any, tmp_path: Path) -> Callable[[], list[EmailMessage]]:
    settings.EMAIL_BACKEND, settings.EMAIL_FILE_PATH = FOLDER, str(tmp_path / "mails")

    def read() -> list[EmailMessage]:
        parser = BytesParser(policy=policy.default)
        files = sorted((tmp_path / "mails").glob("*.log"))
        return [parser.parsebytes(one) for file in files for one in _each(file.read_bytes())]

    return read


def _each(content: bytes) -> list[bytes]:
    """Return the mails of one file, which parts them by a line of dashes."""
    return [part.strip() + b"\n" for part in content.split(b"-" * 79) if part.strip()]


@pytest.fixture
def no_server(settings: Any) -> None:
    """A mail server that is away: nothing listens at its port."""
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        settings.EMAIL_PORT = taken.getsockname()[1]
    settings.EMAIL_BACKEND, settings.EMAIL_HOST = mailing.SMTP, "127.0.0.1"


@pytest.fixture
def wants(workshop: Any) -> Callable[..., Membership]:
    def choose(user: Any, workshop: Any = workshop, **units: str) -> Membership:
        user.email = f"{user.username}@example.org"
        user.save()
        member = Membership.objects.get(user=user, workshop=workshop)
        member.own_units = units
        member.save()
        Reminded.objects.create(member=member, by_mail=True)
        return member

    return choose


@pytest.fixture
def morning(clock: Callable[..., Any]) -> Callable[[int], None]:
    def go(days: int = 0) -> None:
        clock(MORNING + days * DAY)

    go()
    return go


def run() -> str:
    out = StringIO()
    call_command("remind", stdout=out)
    return out.getvalue()


def test_a_mail_says_what_falls_due_in_the_days_of_who_reads_it(
    mails: Any, wants: Any, morning: Any, technician: Any, make_scale: Any, make_cylinder: Any, settings: Any
) -> None:
    settings.ADDRESS = "https://book.example"
    wants(technician, days="mdy")
    make_scale("S7", calibrated_until=date(2026, 3, 2))
    make_scale("S8", calibrated_until=date(2026, 3, 4))
    make_cylinder("C-9", requalify_by=date(2026, 3, 20))
    assert run() == f"{technician}: 3 things due, sent to {technician.username}@example.org.\n"
    (mail,) = mails()
    assert mail["Subject"] == "Port Ellery: 3 things due, 1 past the day"
    assert mail["To"] == f"{technician.username}@example.org"
    assert mail.get_content_type() == "text/plain"
    assert mail.get_content().splitlines() == [
        "Port Ellery, Mar 4, 2026",
        "",
        "Past its day",
        "- Scale S7: its check ran out 2 days ago.",
        "",
        "Today",
        "- Scale S8: its check runs out today.",
        "",
        "Later",
        "- C-9: its test date runs out in 16 days; past it, nothing is filled in.",
        "",
        "https://book.example/w/port-ellery/",
        "",
        "",
        "You chose this mail in the book, under Settings, Reminders, and end it there.",
    ]


def test_a_person_gets_one_mail_a_day_for_all_workshops(
    mails: Any, wants: Any, morning: Any, owner: Any, other_workshop: Any, book: Any, sister_book: Any, make_scale: Any
) -> None:
    Membership.objects.create(user=owner, workshop=other_workshop, role="owner")
    wants(owner)
    wants(owner, other_workshop)
    make_scale("S7", calibrated_until=date(2026, 3, 4))
    make_scale("S9", book=sister_book, calibrated_until=date(2026, 3, 4))
    run()
    assert "sent already" in run() or "nothing is new" in run()
    (mail,) = mails()
    assert mail["Subject"] == "Port Ellery, Highmoor: 2 things due"
    make_scale("S8", calibrated_until=date(2026, 3, 4))
    assert "the mail of today has been sent already" in run()
    assert len(mails()) == 1


def test_what_stays_is_said_again_after_a_week_and_at_once_where_it_comes_nearer(
    mails: Any, wants: Any, morning: Any, technician: Any, make_scale: Any
) -> None:
    wants(technician)
    scale = make_scale("S7", calibrated_until=date(2026, 3, 4))
    days = []
    for day in range(12):
        morning(day)
        before = len(mails())
        run()
        days += [day] * (len(mails()) - before)
    assert days == [0, 1, 8]  # on its day, past it, a week after that
    Scale.objects.filter(pk=scale.pk).update(calibrated_until=date(2027, 3, 4))
    morning(20)
    assert run() == f"{technician}: nothing falls due.\n"


@pytest.mark.usefixtures("no_server")
def test_a_mail_server_that_is_away_is_said_and_tried_again(
    wants: Any, morning: Any, technician: Any, owner: Any, make_scale: Any, settings: Any, tmp_path: Path
) -> None:
    wants(technician)
    wants(owner)
    make_scale("S7", calibrated_until=date(2026, 3, 4))
    out = StringIO()
    with pytest.raises(CommandError, match="2 of 2 mails could not be sent. The next run tries again."):
        call_command("remind", stdout=out)
    assert "The mail server 127.0.0.1 does not answer. The next run tries again." in out.getvalue()
    assert "Not tried" in out.getvalue()
    kept = Reminder.objects.get()
    assert (kept.state, kept.why, kept.told) == (Reminder.NOT_SENT, "The mail server 127.0.0.1 does not answer.", [])
    settings.EMAIL_BACKEND, settings.EMAIL_FILE_PATH = FOLDER, str(tmp_path)
    assert run().count("1 thing due, sent to") == 2
    assert set(Reminder.objects.values_list("state", flat=True)) == {Reminder.SENT}


def test_a_mail_that_was_broken_off_is_not_sent_twice(
    mails: Any, wants: Any, morning: Any, technician: Any, make_scale: Any
) -> None:
    wants(technician)
    make_scale("S7", calibrated_until=date(2026, 3, 4))
    Reminder.objects.create(user=technician, day=MORNING.date(), at=MORNING)  # its process was killed
    assert "was begun and broken off" in run()
    assert mails() == []
    morning(1)
    run()
    assert len(mails()) == 1


def test_without_a_mail_server_the_command_says_so(settings: Any) -> None:
    settings.EMAIL_BACKEND, settings.EMAIL_HOST = mailing.SMTP, ""
    with pytest.raises(CommandError, match="No mail server is set"):
        call_command("remind")


@pytest.mark.parametrize("hindrance", ["no choice", "no address", "reader", "left"])
def test_who_has_not_chosen_it_or_is_gone_gets_none(
    hindrance: str, mails: Any, wants: Any, technician: Any, make_scale: Any, morning: Any
) -> None:
    member = wants(technician)
    make_scale("S7", calibrated_until=date(2026, 3, 4))
    if hindrance == "no choice":
        Reminded.objects.update(by_mail=False)
    elif hindrance == "no address":
        type(technician).objects.update(email="")
    else:
        change = {"role": "reader"} if hindrance == "reader" else {"active": False}
        Membership.objects.filter(pk=member.pk).update(**change)
    assert run() == "Nobody chose mail, so none was sent.\n"
    assert mails() == []


def test_odd_names_make_no_second_header_and_no_second_line(
    mails: Any, wants: Any, morning: Any, technician: Any, workshop: Any, make_scale: Any
) -> None:
    wants(technician)
    workshop.name = "Port\r\nBcc: all@example.org \N{SNOWMAN}"
    workshop.save()
    make_scale("S7\n- Scale S8: gone", calibrated_until=date(2026, 3, 4))
    run()
    (mail,) = mails()
    assert mail["Bcc"] is None
    assert mail["Subject"] == "Port Bcc: all@example.org \N{SNOWMAN}: 1 thing due"
    assert "- Scale S7 - Scale S8: gone: its check runs out today." in mail.get_content().splitlines()


def test_the_closing_is_told_to_the_owner_alone(
    mails: Any, wants: Any, clock: Any, technician: Any, owner: Any, cylinder: Any, now: datetime
) -> None:
    wants(technician)
    wants(owner)
    clock(datetime(now.year + 1, 3, 30, 9, tzinfo=UTC))
    assert f"{technician}: nothing falls due." in run()
    (mail,) = mails()
    assert f"- The year {now.year} is not closed; closing it by" in mail.get_content()


def test_what_is_stored_of_it_is_handed_out_with_the_person(
    mails: Any, wants: Any, morning: Any, technician: Any, workshop: Any, make_scale: Any
) -> None:
    member = wants(technician)
    make_scale("S7", calibrated_until=date(2026, 3, 4))
    run()
    token = feed.new_address(member)
    stored = person_data(technician, workshop)
    assert stored["email"] == f"{technician.username}@example.org"
    assert stored["reminders"] == {
        "by_mail": True,
        "mails": [{"day": "2026-03-04", "state": "sent"}],
        "calendar_addresses": [{"made_at": "2026-03-04T07:00:00+00:00", "revoked_at": None}],
    }
    assert token not in repr(stored)
