"""The scale through its pages."""

from collections.abc import Callable
from typing import Any
from uuid import uuid4

import pytest
from django.test import Client

from inventory.book import audit
from inventory.models import Entry, Movement, Weighing
from tests.answers import confirm, words

HOME = "/w/port-ellery/"


@pytest.fixture
def weigh(technician_client: Client, workshop: Any) -> Callable[..., Any]:
    """Send a reading, through the read-back page where one comes."""

    def post(cylinder: Any, gross: str, scale: Any, query: str = "", **fields: Any) -> Any:
        path = f"{HOME}cylinders/{cylinder.account.number}/weigh/{query}"
        read = {"gross": gross, "gross_unit": "kg", "scale": str(scale.number)}
        return confirm(technician_client, path, {**read, **fields})

    return post


def test_before_and_after_with_nothing_moved(
    weigh: Callable[..., Any], cylinder: Any, scale: Any, held: Callable[..., Any], technician_client: Client
) -> None:
    assert weigh(cylinder, "11.200", scale).status_code == 303
    page = technician_client.get(f"{HOME}cylinders/{cylinder.account.number}/weigh/").content.decode()
    assert "Weigh: after" in page
    assert weigh(cylinder, "11.195", scale, went="nothing").status_code == 303
    assert held(cylinder) == {("R-134a", "virgin"): 4_995_000}


def test_a_reading_is_read_back_before_it_is_written_where_it_was_not_echoed(
    technician_client: Client, workshop: Any, cylinder: Any, scale: Any
) -> None:
    path = f"{HOME}cylinders/{cylinder.account.number}/weigh/"
    response = technician_client.post(
        path, {"key": str(uuid4()), "gross": "11.2", "gross_unit": "kg", "scale": scale.number}
    )
    assert "Nothing is written yet" in response.content.decode()
    assert not Weighing.objects.exists()


def test_what_was_echoed_is_written_at_once(
    technician_client: Client, workshop: Any, cylinder: Any, scale: Any
) -> None:
    path = f"{HOME}cylinders/{cylinder.account.number}/weigh/"
    sent = {"gross": "11.2", "gross_unit": "kg", "scale": scale.number}
    echo = technician_client.get(f"{path}echo/", {**sent, "kind": "mass", "name": "gross"}).content.decode()
    assert "Read as" in echo
    assert 'value="gross=11200000"' in echo
    response = technician_client.post(path, {**sent, "key": str(uuid4()), "seen": "gross=11200000"})
    assert response.status_code == 303
    assert Weighing.objects.get().gross_mg == 11_200_000


@pytest.mark.parametrize(("gross", "more", "status"), [("11.2", {"change": "1"}, 200), ("112", {}, 422)])
def test_a_form_that_comes_back_is_read_back_when_it_is_sent_again(
    gross: str, more: dict[str, str], status: int, technician_client: Client, workshop: Any, cylinder: Any, scale: Any
) -> None:
    """Gone back to be changed, or turned back with a question: its echoes no longer stand for the read-back."""
    path = f"{HOME}cylinders/{cylinder.account.number}/weigh/"
    sent = {"key": str(uuid4()), "gross": gross, "gross_unit": "kg", "scale": scale.number, "seen": "gross=11200000"}
    back = technician_client.post(path, {**sent, **more})
    assert back.status_code == status
    assert 'name="seen"' not in back.content.decode()
    again = technician_client.post(path, {**sent, "gross": "11.2", "seen": []})
    assert "Nothing is written yet" in again.content.decode()
    assert not Weighing.objects.exists()


def test_the_echo_says_how_the_reading_stands_to_the_last(
    weigh: Callable[..., Any], technician_client: Client, cylinder: Any, scale: Any
) -> None:
    weigh(cylinder, "11.200", scale, "?check")
    path = f"{HOME}cylinders/{cylinder.account.number}/weigh/echo/"
    echo = technician_client.get(path, {"gross": "11.195", "gross_unit": "kg", "scale": scale.number}).content.decode()
    assert (
        "5\N{NARROW NO-BREAK SPACE}g less than last time: agrees (readings can tell 9\N{NARROW NO-BREAK SPACE}g)"
        in echo
    )
    echo = technician_client.get(path, {"gross": "11.020", "gross_unit": "kg", "scale": scale.number}).content.decode()
    assert "19.7 times what the two readings can tell" in echo


def test_the_echo_of_the_second_reading_says_the_mass_and_its_uncertainty(
    weigh: Callable[..., Any], technician_client: Client, cylinder: Any, scale: Any
) -> None:
    weigh(cylinder, "11.200", scale)
    path = f"{HOME}cylinders/{cylinder.account.number}/weigh/echo/"
    sent = {"gross": "10.750", "gross_unit": "kg", "scale": scale.number, "went": "nothing"}
    echo = technician_client.get(path, sent).content.decode()
    assert "0.450\N{NARROW NO-BREAK SPACE}kg out, give or take 4\N{NARROW NO-BREAK SPACE}g" in echo
    assert "then holds" in echo


def test_a_reading_between_the_steps_is_a_question_and_may_be_insisted_on(
    weigh: Callable[..., Any], cylinder: Any, scale: Any
) -> None:
    response = weigh(cylinder, "11.203", scale)
    assert response.status_code == 422
    page = response.content.decode()
    assert "lies between the steps" in page
    assert "11.2 kg" in page or "11.200 kg" in page
    assert weigh(cylinder, "11.203", scale, gross_reading="=11.203 kg").status_code == 303


def test_a_reading_over_what_the_scale_carries_is_refused(
    weigh: Callable[..., Any], cylinder: Any, make_scale: Callable[..., Any]
) -> None:
    small = make_scale("S9", capacity_mg=100_000_000)
    response = weigh(cylinder, "250", small)
    assert response.status_code == 422
    assert "is more than S9 carries" in response.content.decode()
    assert not Weighing.objects.exists()


@pytest.mark.parametrize("gross", ["", "heavy", "-3", "1,234", "5 psi", "1e400", "\x00"])
def test_what_is_no_mass_is_put_right_and_writes_nothing(
    gross: str, weigh: Callable[..., Any], cylinder: Any, scale: Any
) -> None:
    assert weigh(cylinder, gross, scale).status_code == 422
    assert not Weighing.objects.exists()


def test_a_reading_pressed_twice_is_written_once_and_says_so(
    weigh: Callable[..., Any], cylinder: Any, scale: Any
) -> None:
    key = "0b7e1a52-6f0e-4b3f-9f62-8f5f1f1d2c11"
    first, second = (weigh(cylinder, "11.200", scale, key=key) for _ in range(2))
    assert (first.status_code, second.status_code) == (303, 303)
    assert first["Location"] == second["Location"]
    assert Weighing.objects.count() == 1
    assert weigh(cylinder, "11.100", scale, key=key).status_code == 409  # gone back to, and changed
    assert Weighing.objects.count() == 1


def test_below_the_empty_mass_is_refused_beside_the_reading(
    weigh: Callable[..., Any], cylinder: Any, scale: Any
) -> None:
    response = weigh(cylinder, "5.000", scale)
    assert response.status_code == 422
    assert "less than the empty mass" in str(response.context["form"].errors["gross"])


def test_a_double_press_is_one_line(weigh: Callable[..., Any], cylinder: Any, scale: Any) -> None:
    key, count = str(uuid4()), Entry.objects.count()
    weigh(cylinder, "11.200", scale, "?check", key=key)
    weigh(cylinder, "11.200", scale, "?check", key=key)
    assert Entry.objects.count() == count + 1


def test_the_scale_last_used_is_chosen_again(
    weigh: Callable[..., Any], technician_client: Client, cylinder: Any, scale: Any, make_scale: Callable[..., Any]
) -> None:
    second = make_scale("S2", step_mg=2_000)
    weigh(cylinder, "11.200", second, "?check")
    page = technician_client.get(f"{HOME}cylinders/{cylinder.account.number}/weigh/")
    assert page.context["form"].initial["scale"] == str(second.number)


def test_the_second_reading_charges_an_open_visit(
    weigh: Callable[..., Any],
    technician_client: Client,
    technician: Any,
    cylinder: Any,
    scale: Any,
    make_vehicle: Callable[..., Any],
    held: Callable[..., Any],
) -> None:
    vehicle = make_vehicle("V1")
    arrival = {"key": str(uuid4()), "registration": "V1", "state": "runs", "doer": technician.handle}
    technician_client.post(f"{HOME}visits/new/", arrival)
    weigh(cylinder, "11.200", scale)
    response = weigh(cylinder, "10.650", scale, went="visit-1")
    assert response["Location"] == f"{HOME}visits/1/"
    assert held(vehicle) == {("R-134a", ""): 550_000}


def test_elsewhere_goes_on_to_the_page_that_asks_where(weigh: Callable[..., Any], cylinder: Any, scale: Any) -> None:
    weigh(cylinder, "11.200", scale)
    response = weigh(cylinder, "10.650", scale, went="transfer")
    assert response["Location"].startswith(f"{HOME}cylinders/{cylinder.account.number}/transfer/?after=10.650")
    assert not Movement.objects.filter(cause="charge").exists()


@pytest.mark.parametrize("went", ["transfer", "loss"])
def test_what_was_typed_of_the_reading_after_stands_on_that_page_with_its_ounces(
    weigh: Callable[..., Any], technician_client: Client, cylinder: Any, scale: Any, went: str
) -> None:
    weigh(cylinder, "11.200", scale)
    asked = weigh(cylinder, "23 7.5", scale, went=went, gross_unit="lb oz", gross_reading="=23 lb 7.5 oz")
    page = technician_client.get(asked["Location"])
    after = page.context["form"]["after"].value()
    assert (after.text, after.unit) == ("23 7.5", "lb oz")
    assert page.context["form"]["scale"].value() == str(scale.number)


def test_a_scanned_label_opens_its_cylinder(technician_client: Client, workshop: Any, cylinder: Any) -> None:
    response = technician_client.get(f"{HOME}weigh/", {"q": f"HTTPS://HOST.LAN/C/{cylinder.label}"})
    assert response["Location"] == f"{HOME}cylinders/{cylinder.account.number}/weigh/"


def test_a_reader_and_a_stranger_do_not_weigh(
    reader_client: Client, stranger_client: Client, cylinder: Any, scale: Any
) -> None:
    for path in (
        "weigh/",
        f"cylinders/{cylinder.account.number}/weigh/",
        f"cylinders/{cylinder.account.number}/weigh/echo/",
    ):
        assert reader_client.get(HOME + path).status_code == 403
        assert stranger_client.get(HOME + path).status_code == 404
    assert reader_client.post(f"{HOME}cylinders/{cylinder.account.number}/weigh/", {}).status_code == 403


@pytest.mark.parametrize(("gross", "kept"), [("13.480 kg", True), ("13.48 kg", True), ("13.485 kg", False)])
def test_what_a_scale_sent_is_kept_and_sealed_while_it_says_the_reading(
    gross: str, kept: bool, weigh: Callable[..., Any], cylinder: Any, scale: Any, technician_client: Client
) -> None:
    record = "usb 74 53 -3 13480 0403fda834"
    assert weigh(cylinder, gross, scale, gross_raw=record).status_code == 303
    written = Weighing.objects.get()
    assert written.raw == (record if kept else "")
    assert not list(audit.faults(cylinder.account.book))
    page = technician_client.get(f"{HOME}lines/{written.entry.seq}/").content.decode()
    assert (record in page) is kept


def test_a_reading_sent_in_coarser_steps_than_the_scale_has_is_taken_and_counts_as_coarse(
    weigh: Callable[..., Any], cylinder: Any, make_scale: Callable[..., Any]
) -> None:
    fine = make_scale("S9", step_mg=2_000)
    assert weigh(cylinder, "11.205", fine).status_code == 422  # typed: no display of it
    assert weigh(cylinder, "11.205 kg", fine, gross_raw="bluetooth 00c108").status_code == 303
    sent = Weighing.objects.latest("pk")
    assert (sent.gross_mg, sent.step_mg) == (11_205_000, 5_000)
    assert weigh(cylinder, "11.204", fine, went="nothing").status_code == 303
    typed = Weighing.objects.latest("pk")
    assert typed.step_mg == 2_000
    assert sent.u_mg > typed.u_mg
    assert not list(audit.faults(cylinder.account.book))


def test_an_open_reading_is_dropped_with_a_reason_and_without_a_reading(
    weigh: Callable[..., Any], technician_client: Client, cylinder: Any, scale: Any, held: Callable[..., Any]
) -> None:
    weigh(cylinder, "11.200", scale)
    at = f"{HOME}cylinders/{cylinder.account.number}/drop/"
    assert at in technician_client.get("/pin/").content.decode()
    assert technician_client.post(at, {"key": str(uuid4()), "why": ""}).status_code == 422
    page = words(technician_client.get(at))
    assert "Has gas moved since?" in page
    sent = {"key": str(uuid4()), "why": "The customer left"}
    assert technician_client.post(at, sent).status_code == 303
    assert technician_client.post(at, sent).status_code == 303
    assert Entry.objects.filter(kind="seal").count() == 1
    assert "On the scale since" not in words(technician_client.get(f"{HOME}cylinders/"))
    line = Entry.objects.get(kind="seal").seq
    told = words(technician_client.get(f"{HOME}lines/{line}/"))
    assert "dropped: no second one came" in told
    assert "The customer left" in told
    assert f"line {line - 1} dropped" in words(technician_client.get(HOME))
    assert "Weigh: before" in words(technician_client.get(f"{HOME}cylinders/{cylinder.account.number}/weigh/"))
    assert weigh(cylinder, "11.200", scale).status_code == 303
    assert held(cylinder) == {("R-134a", "virgin"): 5_000_000}


def test_dropped_from_a_page_it_leads_back_there_and_twice_is_said(
    weigh: Callable[..., Any], technician_client: Client, cylinder: Any, scale: Any
) -> None:
    weigh(cylinder, "11.200", scale)
    at = f"{HOME}cylinders/{cylinder.account.number}/drop/?back={HOME}visits/"
    answer = technician_client.post(at, {"key": str(uuid4()), "why": "put off"})
    assert answer["Location"] == f"{HOME}visits/"
    again = technician_client.post(at, {"key": str(uuid4()), "why": "put off"}, follow=True)
    assert "stands on no scale any more" in words(again)


@pytest.mark.parametrize("page", ["/pin/", "/appearance/"])
def test_a_page_of_no_workshop_shows_what_stands_on_the_scales_of_ones_own(
    page: str,
    weigh: Callable[..., Any],
    technician_client: Client,
    reader_client: Client,
    stranger_client: Client,
    cylinder: Any,
    scale: Any,
) -> None:
    weigh(cylinder, "11.200", scale)
    assert "/drop/" in technician_client.get(page).content.decode()
    shown = reader_client.get(page)
    assert "On the scale since" in words(shown)
    assert "/drop/" not in shown.content.decode()
    assert "On the scale since" not in words(stranger_client.get(page))


def test_a_reading_before_that_is_far_from_the_last_is_read_back_and_said_though_it_was_echoed(
    technician_client: Client, workshop: Any, weigh: Callable[..., Any], cylinder: Any, scale: Any
) -> None:
    assert weigh(cylinder, "11.200", scale).status_code == 303
    assert weigh(cylinder, "11.200", scale, went="nothing").status_code == 303
    path = f"{HOME}cylinders/{cylinder.account.number}/weigh/"
    slip = {"gross": "10.2", "gross_unit": "kg", "scale": scale.number, "key": str(uuid4()), "seen": "gross=10200000"}
    asked = technician_client.post(path, slip)
    assert asked.status_code == 200
    assert "g less than last time: unexplained" in words(asked)
    assert Weighing.objects.count() == 2
    written = technician_client.post(path, {**slip, "read_back": asked.context["signature"]}, follow=True)
    assert "g less than last time: booked as unexplained" in words(written)
