"""The logbook: lines of a day, what is owed, what is held."""

from collections.abc import Callable
from datetime import date, datetime, timedelta
from typing import Any
from zoneinfo import ZoneInfo

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.utils import timezone

from inventory.acts import onscale, settling, undoing
from inventory.book.differences import open_differences
from inventory.book.weighing import Gross
from inventory.models import Entry, Gauge, Weighing
from shop.models import Certification
from shop.pages import daybook, owed
from shop.pages.owed import Owed
from shop.templatetags.own import PAGES

HOME = "/w/port-ellery/"
THERE = ZoneInfo("Etc/GMT-2")  # where the book stands: its day may be another than that of UTC


@pytest.fixture
def weigh(act: Callable[..., Any], book: Any, scale: Any) -> Callable[..., Any]:
    def write(cylinder: Any, gross_mg: int, at: datetime | None = None) -> Any:
        return onscale.weigh(book, act(at=at), Gross(cylinder, scale, gross_mg, str(gross_mg)), Weighing.CHECK)

    return write


def page(client: Client, query: str = "") -> str:
    response = client.get(HOME + query)
    assert response.status_code == 200
    return str(response.content.decode()).replace("\N{NARROW NO-BREAK SPACE}", " ")


def test_an_empty_book_says_so_and_offers_the_four_acts(technician_client: Client) -> None:
    text = page(technician_client)
    for words in ("Weigh", "Start a visit", "Receive a cylinder", "Send a cylinder away", "No lines yet today"):
        assert words in text


def test_a_line_shows_mass_in_out_and_what_was_then_held(
    technician_client: Client, cylinder: Any, weigh: Callable[..., Any]
) -> None:
    weigh(cylinder, 11_195_000)
    weigh(cylinder, 11_095_000)
    lines = technician_client.get(HOME).context["lines"]
    assert [(line.in_mg, line.out_mg, line.held_mg) for line in lines] == [
        (None, 100_000, 4_895_000),
        (None, 5_000, 4_995_000),
        (5_000_000, None, 5_000_000),
    ]


def test_a_difference_beyond_the_readings_is_owed_in_its_own_words(
    technician_client: Client, cylinder: Any, weigh: Callable[..., Any]
) -> None:
    weigh(cylinder, 11_200_000)
    weigh(cylinder, 11_020_000)
    text = page(technician_client)
    assert "180 g, 19.7 times what the two readings can tell" in text
    assert f"{HOME}lines/" in text


def test_an_explained_difference_is_owed_no_more(
    cylinder: Any, weigh: Callable[..., Any], book: Any, act: Callable[..., Any]
) -> None:
    weigh(cylinder, 11_200_000)
    weigh(cylinder, 11_020_000)
    (found,) = open_differences(book)
    settling.explain(book, act(), found.movement, cause="loss-explained", mass_mg=171_000)
    assert open_differences(book) == []  # 9 g are left, which the readings cannot tell


def test_a_reversed_difference_is_not_owed(
    cylinder: Any, weigh: Callable[..., Any], book: Any, act: Callable[..., Any]
) -> None:
    weigh(cylinder, 11_200_000)
    entry = weigh(cylinder, 11_020_000)
    undoing.reverse(book, act(), entry)
    assert open_differences(book) == []


def test_small_losses_all_one_way_are_found_though_none_alone_is(
    technician_client: Client,
    make_cylinder: Callable[..., Any],
    make_scale: Callable[..., Any],
    book: Any,
    act: Callable[..., Any],
) -> None:
    bottle, fine = make_cylinder(mass_mg=5_000_000), make_scale("S5", step_mg=1_000, zero_mg=5_000)
    for time in range(60):
        gross = Gross(bottle, fine, 11_200_000 - 3_000 * time, "typed")
        onscale.weigh(book, act(content={"time": time}), gross, Weighing.CHECK)
    assert open_differences(book) == []
    assert "Small losses all one way: 177 g in 60 readings" in page(technician_client)


def test_what_runs_out_is_owed(
    technician_client: Client,
    technician: Any,
    book: Any,
    make_cylinder: Callable[..., Any],
    make_scale: Callable[..., Any],
) -> None:
    today = timezone.localdate(timezone=THERE)
    make_cylinder("OLD-1", requalify_by=today - timedelta(days=3))
    make_scale("S7", calibrated_until=today + timedelta(days=5))
    Gauge.objects.create(book=book, name="G1", kind="pressure gauge", calibrated_until=today - timedelta(days=1))
    Certification.objects.create(user=technician, scheme="Training", number="1", expires_on=today + timedelta(days=9))
    text = page(technician_client)
    assert "OLD-1: its test date ran out 3 days ago" in text
    assert "Scale S7: its check runs out in 5 days" in text
    assert "Pressure gauge G1: its check ran out 1 day ago" in text
    assert "Training runs out in 9 days" in text


def test_the_check_of_an_instrument_leads_a_technician_to_a_form_and_a_reader_nowhere(
    technician_client: Client, reader_client: Client, make_scale: Callable[..., Any], book: Any
) -> None:
    today = timezone.localdate(timezone=THERE)
    scale = make_scale("S7", calibrated_until=today + timedelta(days=5))
    gauge = Gauge.objects.create(
        book=book, name="G1", kind="pressure gauge", calibrated_until=today - timedelta(days=1)
    )
    text = page(technician_client)
    for address in (f"settings/scales/{scale.number}/check/", f"settings/instruments/{gauge.pk}/check/"):
        address = f"/w/port-ellery/{address}"
        assert f'href="{address}"' in text
        assert '<form class="form" method="post"' in technician_client.get(address).content.decode()
        assert reader_client.get(address).status_code == 403
        assert address not in page(reader_client)
    assert "Scale S7: its check runs out in 5 days" in page(reader_client)


def test_a_newer_certificate_of_the_same_scheme_settles_the_old_one(technician_client: Client, technician: Any) -> None:
    today = timezone.localdate(timezone=THERE)
    for days in (-10, 900):
        day = today + timedelta(days=days)
        Certification.objects.create(user=technician, scheme="Training", number="1", expires_on=day)
    assert "Training" not in page(technician_client)


def test_more_than_three_of_a_kind_are_folded_the_newest_first(
    technician_client: Client, make_cylinder: Callable[..., Any]
) -> None:
    today = timezone.localdate(timezone=THERE)
    for days in (1, 2, 3):
        make_cylinder(f"OLD-{days}", requalify_by=today - timedelta(days=days))
    assert "<summary>3 cylinders" not in page(technician_client)
    make_cylinder("OLD-0", requalify_by=today)
    text = page(technician_client)
    assert "<summary>4 cylinders: test dates that run out</summary>" in text
    places = [text.index(f"OLD-{days}: its test date") for days in range(4)]
    assert places == sorted(places)


def test_floors_above_add_what_they_owe(technician_client: Client, monkeypatch: pytest.MonkeyPatch) -> None:
    thing = Owed("A thing of the rules.", "/x/", "Settle it")
    monkeypatch.setattr(owed, "PROVIDERS", [lambda shop, day, units: [thing]])
    assert "A thing of the rules." in page(technician_client)


def test_earlier_days_are_a_link_away_and_late_lines_are_shown_today(
    technician_client: Client, cylinder: Any, weigh: Callable[..., Any], now: datetime
) -> None:
    weigh(cylinder, 11_200_000, now - timedelta(days=30))
    text = page(technician_client)
    assert "Written today for earlier days" in text
    day = (now - timedelta(days=30)).date()
    before = technician_client.get(HOME).context["earlier"]
    assert abs((before - day).days) <= 1
    assert "weighed" in page(technician_client, f"?day={before.isoformat()}")


@pytest.mark.parametrize("day", ["soon", "2025-13-40", "2025-01-01T00:00"])
def test_a_day_that_is_none_is_not_found(day: str, technician_client: Client) -> None:
    assert technician_client.get(f"{HOME}?day={day}").status_code == 404


def test_any_day_may_be_looked_at(technician_client: Client) -> None:
    assert "No lines" in page(technician_client, f"?day={date(1999, 1, 1).isoformat()}")


def test_held_now_is_summed_by_refrigerant_and_grade(
    technician_client: Client, make_cylinder: Callable[..., Any]
) -> None:
    make_cylinder(mass_mg=5_000_000)
    make_cylinder(mass_mg=1_000_000)
    make_cylinder(refrigerant="R-12", grade="recovered", mass_mg=2_490_000)
    assert technician_client.get(HOME).context["held"] == [
        ("R-12", "recovered", 2_490_000),
        ("R-134a", "virgin", 6_000_000),
    ]


def test_a_reader_sees_the_book_without_its_acts_and_a_stranger_nothing(
    reader_client: Client, stranger_client: Client
) -> None:
    assert "Start a visit" not in page(reader_client)
    assert stranger_client.get(HOME).status_code == 404


def test_the_page_costs_the_same_for_many_lines_cylinders_and_differences(
    technician_client: Client,
    make_cylinder: Callable[..., Any],
    weigh: Callable[..., Any],
    make_scale: Callable[..., Any],
) -> None:
    def fill(times: int) -> None:
        for _ in range(times):
            one = make_cylinder(mass_mg=5_000_000, requalify_by=date(2020, 1, 1))
            weigh(one, 11_200_000)
            weigh(one, 11_000_000)

    def queries() -> int:
        technician_client.get(HOME)  # the records are judged by the rules once for each change
        with CaptureQueriesContext(connection) as caught:
            technician_client.get(HOME)
        return len(caught)

    fill(2)
    few = queries()
    fill(8)
    assert queries() == few


def test_a_day_without_lines_yet_is_followed_by_the_last_days(
    technician_client: Client, cylinder: Any, weigh: Callable[..., Any], book: Any, now: datetime
) -> None:
    for hours in (2, 1):
        weigh(cylinder, 11_195_000, now - timedelta(hours=hours))
    today = timezone.localdate(timezone=THERE)
    days = daybook.last_days(book, today + timedelta(days=4))
    shown = [line.entry.seq for _, lines in days for line in lines if line.first]
    assert shown == [one.seq for one in Entry.objects.order_by("-booked_on", "-occurred_at", "-seq")]
    assert [day for day, _ in days] == sorted({day for day, _ in days}, reverse=True)
    assert daybook.last_days(book, min(day for day, _ in days)) == []
    assert technician_client.get(HOME).context["last_days"] == []


@pytest.mark.parametrize("role", ["technician", "reader", "owner"])
def test_the_menu_of_a_role_reaches_every_page(role: str, request: pytest.FixtureRequest) -> None:
    client = request.getfixturevalue(f"{role}_client")
    text = page(client)
    assert ("More pages" in text) == (role != "owner")
    for name in PAGES:
        href = "" if name == "logbook" else f"{name}/"
        assert f'<a href="{HOME}{href}"' in text
        assert client.get(HOME + href).status_code == 200
