"""The calendar of what falls due, read by the library that calendars are read with."""

from collections.abc import Callable
from datetime import UTC, date, datetime, timedelta
from typing import Any
from zoneinfo import ZoneInfo

import pytest
from django.test import Client
from django.utils import timezone
from icalendar import Calendar

from compliance.due import feed
from compliance.models import CalendarAddress
from inventory.acts import away
from inventory.book.weighing import Gross
from inventory.models import Gauge, Scale
from shop.models import Certification, Membership

pytestmark = pytest.mark.django_db
ODD = 'Long, \\n; "odd" \N{SNOWMAN} <b>\N{LATIN SMALL LETTER E WITH ACUTE}'  # forty letters at most


@pytest.fixture
def member(workshop: Any, technician: Any) -> Membership:
    return Membership.objects.get(user=technician, workshop=workshop)


def read(workshop: Any, today: date, now: datetime | None = None) -> list[Any]:
    calendar = Calendar.from_ical(feed.calendar_of(workshop, today, now or datetime.now(UTC)))
    return list(calendar.walk("VEVENT"))


@pytest.mark.parametrize(
    ("zone", "today"),
    [("Europe/Paris", date(2026, 3, 29)), ("America/New_York", date(2026, 11, 1)), ("Asia/Kolkata", date(2026, 6, 1))],
)
def test_a_thing_is_a_whole_day_wherever_the_workshop_is_and_whatever_its_clocks_do(
    zone: str, today: date, workshop: Any, make_scale: Callable[..., Any]
) -> None:
    workshop.zone = zone
    workshop.save()
    make_scale("S7", calibrated_until=today)
    midnight = datetime(today.year, today.month, today.day, tzinfo=ZoneInfo(zone))
    for hours in (0, 2, 3, 23):
        (event,) = read(workshop, today, midnight + timedelta(hours=hours))
        assert type(event.decoded("dtstart")) is date
        assert (event.decoded("dtstart"), event.decoded("dtend")) == (today, today + timedelta(days=1))
        assert event.decoded("dtstamp").tzinfo is not None
        assert str(event["summary"]) == "Scale S7: its check runs out"


def test_a_calendar_says_how_often_to_look_in_both_ways_that_are_read(workshop: Any) -> None:
    calendar = Calendar.from_ical(feed.calendar_of(workshop, date(2026, 3, 4), datetime.now(UTC)))
    assert calendar.decoded("refresh-interval") == feed.AGAIN
    assert str(calendar["x-published-ttl"]) == "PT12H"


def test_a_thing_keeps_its_identity_when_its_day_changes(workshop: Any, make_scale: Callable[..., Any]) -> None:
    today = date(2026, 3, 4)
    scale = make_scale("S7", calibrated_until=today)
    (before,) = read(workshop, today)
    Scale.objects.filter(pk=scale.pk).update(calibrated_until=today + timedelta(days=365))
    (after,) = read(workshop, today)
    assert str(before["uid"]) == str(after["uid"])
    assert after.decoded("dtstart") == date(2027, 3, 4)


def test_every_thing_has_an_identity_of_its_own_in_every_workshop(
    workshop: Any, other_workshop: Any, book: Any, sister_book: Any, make_scale: Callable[..., Any]
) -> None:
    today = date(2026, 3, 4)
    for own in (book, sister_book):
        make_scale("S7", book=own, calibrated_until=today)
        make_scale("S8", book=own, calibrated_until=today)
    found = [str(one["uid"]) for each in (workshop, other_workshop) for one in read(each, today)]
    assert len(set(found)) == 4


def test_odd_words_come_through_whole_and_no_line_is_too_long(workshop: Any, make_scale: Callable[..., Any]) -> None:
    today = date(2026, 3, 4)
    make_scale(ODD, calibrated_until=today)
    whole = feed.calendar_of(workshop, today, datetime.now(UTC))
    assert all(len(line) <= 75 for line in whole.split(b"\r\n"))
    assert b"\n" not in whole.replace(b"\r\n", b"")
    (event,) = read(workshop, today)
    assert str(event["summary"]) == f"Scale {ODD}: its check runs out"


def test_nobody_is_named(
    workshop: Any,
    book: Any,
    technician: Any,
    scale: Any,
    partner: Any,
    make_cylinder: Callable[..., Any],
    make_vehicle: Callable[..., Any],
    act: Callable[..., Any],
) -> None:
    technician.display_name = "Ansel Quill"
    technician.save()
    today = timezone.localdate()
    make_vehicle("PE 14 ABC")
    bottle = make_cylinder("QUILL-1", requalify_by=today)
    gone = make_cylinder("C-2", mass_mg=1_000_000)
    dispatch = away.Dispatch(partner, "sent-away", "reclaim", "Quill 9")
    away.send_away(book, act(), Gross(gone, scale, gone.tare_mg + 1_000_000, "typed"), dispatch)
    Gauge.objects.create(book=book, name="Ansel's", kind="thermometer", calibrated_until=today)
    Certification.objects.create(user=technician, scheme="Quill's own", number="No. 77", expires_on=today)
    whole = feed.calendar_of(workshop, today, datetime.now(UTC)).decode().replace("\r\n ", "")
    for named in ("Quill", "QUILL", "Ansel", technician.handle, technician.username, "PE 14", str(partner), "No. 77"):
        assert named not in whole
    told = [str(one["summary"]) for one in read(workshop, today)]
    assert f"Cylinder {bottle.label}: its test date runs out" in told
    assert "An instrument: its check runs out" in told
    assert "A certificate runs out" in told
    assert any(words.startswith("The consignment of line ") for words in told)


def test_a_calendar_is_read_by_its_address_alone_and_kept_by_nobody(
    workshop: Any, member: Membership, make_scale: Callable[..., Any], client: Client
) -> None:
    make_scale("S7", calibrated_until=timezone.localdate())
    token = feed.new_address(member)
    answer = client.get(f"/calendar/{token}/")
    assert answer.status_code == 200
    assert answer["Content-Type"] == "text/calendar; charset=utf-8"
    assert answer["Cache-Control"] == "no-store"
    assert answer["Referrer-Policy"] == "no-referrer"
    assert not answer.cookies
    assert [str(one["summary"]) for one in Calendar.from_ical(answer.content).walk("VEVENT")] == [
        "Scale S7: its check runs out"
    ]
    assert not CalendarAddress.objects.filter(token_digest=token).exists()
    assert client.head(f"/calendar/{token}/").status_code == 200
    assert client.post(f"/calendar/{token}/").status_code == 405


def test_an_address_that_leads_nowhere_says_so(member: Membership, client: Client) -> None:
    first = feed.new_address(member)
    second = feed.new_address(member)
    assert client.get(f"/calendar/{second}/").status_code == 200
    feed.revoke_address(member)
    for token, status, words in (
        ("x" * 43, 404, "There is no calendar at this address."),
        (first, 410, "This calendar address was revoked."),
        (second, 410, "This calendar address was revoked."),
    ):
        answer = client.get(f"/calendar/{token}/")
        assert answer.status_code == status
        assert answer["Content-Type"].startswith("text/plain")
        assert answer.content.decode().startswith(words)


@pytest.mark.parametrize("left", ["membership", "person"])
def test_the_calendar_of_somebody_who_left_ends(left: str, member: Membership, client: Client) -> None:
    token = feed.new_address(member)
    if left == "membership":
        Membership.objects.filter(pk=member.pk).update(active=False)
    else:
        member.user.is_active = False
        member.user.save()
    assert client.get(f"/calendar/{token}/").status_code == 410
