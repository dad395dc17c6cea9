"""What is under way: started, read, put right, dropped or finished, from one telephone or two.

running   start(kind="pressure-hold", **fields): start the clock of `visit` through its page and return the watch
"""

import re
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from threading import Barrier, Thread
from typing import Any
from uuid import UUID, uuid4
from zoneinfo import ZoneInfo

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext

from inventory.book.refusals import Refused
from inventory.models import Gauge
from shop.models import Step, Visit, Watch, WatchReading
from shop.people.privacy import person_data
from shop.visits import underway
from shop.visits.acts import watching
from shop.visits.watches import MOST_READINGS, WATCH_BY_NAME
from tests.answers import words
from tests.shop.visits.looking import Make

pytestmark = pytest.mark.django_db
HOME = "/w/port-ellery/"
HOLD = WATCH_BY_NAME["pressure hold"]
READ = {"pressure": {"text": "149", "unit": "psig", "si": 1e6, "echo": "149 psi gauge"}}


@pytest.fixture
def visit(arrive: Any, make_vehicle: Any) -> Visit:
    return arrive(make_vehicle(refrigerant="R-134a"), state="runs")


@pytest.fixture
def running(technician_client: Client, visit: Visit) -> Callable[..., Watch]:
    def start(kind: str = "pressure-hold", **fields: Any) -> Watch:
        sent = {"key": str(uuid4()), "pressure": "150", "pressure_unit": "psi", "planned": "15", **fields}
        answer = technician_client.post(f"{HOME}visits/{visit.number}/watch/{kind}/", sent)
        assert answer.status_code == 303, wrong(answer)
        return Watch.objects.latest("pk")

    return start


@pytest.fixture
def at(visit: Visit) -> Callable[..., str]:
    """Return the address of a watch, or of a page below it."""
    return lambda watch, more="": f"{HOME}visits/{visit.number}/under-way/{watch.pk}/{more}"


@pytest.fixture
def read(technician_client: Client, at: Any) -> Make:
    def press(watch: Watch, pressure: str, client: Client = technician_client, **fields: Any) -> Any:
        sent = {"key": str(uuid4()), "pressure": pressure, "pressure_unit": "psi", **fields}
        return client.post(at(watch), sent)

    return press


def wrong(answer: Any) -> list[str]:
    """Return what a form is refused for."""
    return re.findall(
        r'<div class="error"[^>]*>(.*?)</div>|class="put-right".*?</section>', answer.content.decode(), re.S
    )


def form_of(answer: Any) -> dict[str, str]:
    """Return what stands in the inputs and choices of a form as it would be sent."""
    text, found = answer.content.decode(), {}
    for tag in re.findall(r"<input\b[^>]*>", text):
        name, value = re.search(r'name="([^"]+)"', tag), re.search(r'value="([^"]*)"', tag)
        chosen = "checked" in tag or not re.search(r'type="(radio|checkbox|file)"', tag)
        if name and chosen:
            found[name[1]] = value[1] if value else ""
    for name, options in re.findall(r'<select\b[^>]*name="([^"]+)"[^>]*>(.*?)</select>', text, re.DOTALL):
        chosen_option = re.search(r'<option value="([^"]*)" selected', options)
        found[name] = chosen_option[1] if chosen_option else ""
    found.pop("csrfmiddlewaretoken", None)
    return found


def test_start_keeps_time_reading_gauge_and_length_and_is_no_step(
    running: Callable[..., Watch], book: Any, clock: Any, technician: Any, visit: Visit
) -> None:
    gauge = Gauge.objects.create(book=book, name="G1", kind="pressure gauge", step=10_000.0)
    now = clock(datetime.now(UTC).replace(microsecond=0))
    watch = running(temperature="68", temperature_unit="F", gauge=str(gauge.pk), planned="1.5 h")
    assert (watch.started_at, watch.started_by, watch.planned_s) == (now, technician.handle, 5_400.0)
    assert watch.data["gauge"]["instrument"]["id"] == gauge.pk
    kept = watch.readings.get()
    assert (kept.data["pressure"]["text"], kept.data["pressure"]["unit"]) == ("150", "psig")
    assert kept.data["temperature"]["si"] == pytest.approx(293.15)
    head = book.head_seq
    book.refresh_from_db()
    assert book.head_seq == head
    assert not visit.steps.filter(kind="pressure hold").exists()


def test_a_double_press_starts_one(running: Callable[..., Watch]) -> None:
    key = str(uuid4())
    assert running(key=key) == running(key=key)
    assert WatchReading.objects.count() == 1


def test_a_second_telephone_is_led_to_the_one_that_runs(
    running: Callable[..., Watch], owner_client: Client, visit: Visit
) -> None:
    running()
    sent = {"key": str(uuid4()), "pressure": "150", "pressure_unit": "psi", "planned": "15"}
    answer = owner_client.post(f"{HOME}visits/{visit.number}/watch/pressure-hold/", sent)
    assert answer.status_code == 422
    assert "one is under way at this visit since" in words(answer)
    assert Watch.objects.count() == 1


def test_nothing_starts_without_a_reading_that_can_be_read(technician_client: Client, visit: Visit) -> None:
    for pressure in ("", "lots", "5,000 psi"):
        sent = {"key": str(uuid4()), "pressure": pressure, "planned": "15"}
        answer = technician_client.post(f"{HOME}visits/{visit.number}/watch/pressure-hold/", sent)
        assert answer.status_code == 422
    assert not Watch.objects.exists()


@pytest.mark.parametrize("planned", ["0", "8 d", "soon"])
def test_a_length_that_cannot_be_watched_is_refused(technician_client: Client, visit: Visit, planned: str) -> None:
    sent = {"key": str(uuid4()), "pressure": "150", "pressure_unit": "psi", "planned": planned}
    answer = technician_client.post(f"{HOME}visits/{visit.number}/watch/pressure-hold/", sent)
    assert answer.status_code == 422
    assert not Watch.objects.exists()


def test_readings_of_two_telephones_stand_together_and_a_press_counts_once(
    running: Callable[..., Watch], read: Make, owner_client: Client, owner: Any, technician: Any
) -> None:
    watch, key = running(), str(uuid4())
    assert [read(watch, "149", key=key).status_code for _ in range(2)] == [303, 303]
    assert read(watch, "148", owner_client).status_code == 303
    rows = watch.readings.order_by("pk")
    assert [row.data["pressure"]["text"] for row in rows] == ["150", "149", "148"]
    assert [row.taken_by for row in rows] == [technician.handle, technician.handle, owner.handle]


def test_a_press_that_was_long_on_its_way_counts_from_when_it_was_pressed(
    running: Callable[..., Watch], read: Make, clock: Any, now: datetime
) -> None:
    clock(now - timedelta(minutes=20))
    watch = running()
    clock(now)
    for number, ago in enumerate(("180000", "900000", "soon", "-5")):
        read(watch, f"{149 - number}", ago=ago)
    found = watch.readings.order_by("pk").values_list("taken_at", flat=True)
    assert list(found)[1:] == [now - timedelta(minutes=3), now, now, now]


def test_a_slip_is_put_right_or_dropped_and_the_second_is_kept(
    running: Callable[..., Watch], read: Make, technician_client: Client, at: Any, clock: Any, now: datetime
) -> None:
    clock(now)
    watch = running()
    clock(now + timedelta(seconds=75))
    read(watch, "15")
    slip = watch.readings.latest("pk")
    page = technician_client.get(at(watch, f"readings/{slip.pk}/"))
    sent = {**form_of(page), "pressure": "149"}
    assert technician_client.post(at(watch, f"readings/{slip.pk}/"), sent).status_code == 303
    slip.refresh_from_db()
    assert (slip.data["pressure"]["text"], slip.taken_at) == ("149", now + timedelta(seconds=75))
    assert technician_client.post(at(watch, f"readings/{slip.pk}/"), {"drop": "1"}).status_code == 303
    assert "Read so far (1)" in words(technician_client.get(at(watch)))


def test_a_reading_before_the_start_and_one_too_many_are_refused(
    running: Callable[..., Watch], read: Make, technician: Any, clock: Any, now: datetime
) -> None:
    clock(now)
    watch = running()
    early = read(watch, "149", occurred_at=(now - timedelta(hours=1)).isoformat())
    assert early.status_code == 422
    assert "That is before it was started" in words(early)
    for second in range(1, MOST_READINGS):
        moment = now + timedelta(seconds=second)
        watching.add_reading(watch, key=uuid4(), by=technician.handle, taken_at=moment, data=READ)
    full = read(watch, "149")
    assert full.status_code == 422
    assert "as many as a step takes" in words(full)


def finished(client: Client, page: Any, person: Any, **fields: Any) -> Any:
    """Send the form of a step as it came, with what is still to be answered."""
    return client.post(page.request["PATH_INFO"] + "?" + page.request["QUERY_STRING"], {**form_of(page), **fields})


def test_finish_fills_the_form_with_all_that_was_typed_and_writes_one_step(
    running: Callable[..., Watch], read: Make, technician_client: Client, technician: Any, visit: Visit,
    clock: Any, now: datetime, book: Any,
) -> None:  # fmt: skip
    gauge = Gauge.objects.create(book=book, name="G1", kind="pressure gauge", step=10_000.0)
    clock(now)
    watch = running(temperature="68", temperature_unit="F", gauge=str(gauge.pk))
    clock(now + timedelta(minutes=10))
    read(watch, "10.3", pressure_unit="bar", temperature="20 C")
    clock(now + timedelta(minutes=20, seconds=30))
    read(watch, "150", temperature="68", temperature_unit="F")
    address = f"{HOME}visits/{visit.number}/add/pressure-hold/?watch={watch.pk}"
    page = technician_client.get(address)
    form = form_of(page)
    typed = [[form[f"readings_{row}_{part}"] for part in ("time", "pressure", "temperature")] for row in range(3)]
    assert typed == [["0", "150", "68"], ["10", "10.3 bar", "20 C"], ["20.5", "150", "68"]]
    assert (form["readings_pressure_unit"], form["readings_temperature_unit"]) == ("psi", "F")
    assert form["gauge"] == str(gauge.pk)
    answer = finished(technician_client, page, technician, gas="dry nitrogen")
    assert answer.status_code == 303, wrong(answer)
    again = finished(technician_client, page, technician, gas="dry nitrogen")
    assert again.status_code == 303
    step = Step.objects.get(kind="pressure hold")
    watch.refresh_from_db()
    assert watch.step == step
    assert watch.ended_at is not None
    assert [row["time_s"] for row in step.data["readings"]["si"]] == [0.0, 600.0, 1_230.0]
    assert step.data["readings"]["si"][1]["pressure_pa"] == pytest.approx(1.03e6 + 101_325, abs=1)
    assert step.occurred_at == now + timedelta(seconds=1_230)


def test_two_telephones_finish_one_step(
    running: Callable[..., Watch], read: Make, technician_client: Client, owner_client: Client, technician: Any,
    owner: Any, visit: Visit, clock: Any, now: datetime,
) -> None:  # fmt: skip
    clock(now)
    watch = running()
    clock(now + timedelta(minutes=15))
    read(watch, "150")
    address = f"{HOME}visits/{visit.number}/add/pressure-hold/?watch={watch.pk}"
    pages = [client.get(address) for client in (technician_client, owner_client)]
    first = finished(technician_client, pages[0], technician, gas="dry nitrogen")
    second = finished(owner_client, pages[1], owner, gas="dry nitrogen")
    assert (first.status_code, second.status_code) == (303, 422)
    assert "was finished at" in words(second)
    assert Step.objects.filter(kind="pressure hold").count() == 1
    assert read(watch, "149").status_code == 422


def test_what_is_refused_leaves_it_running(
    running: Callable[..., Watch], technician_client: Client, technician: Any, visit: Visit
) -> None:
    watch = running()
    page = technician_client.get(f"{HOME}visits/{visit.number}/add/pressure-hold/?watch={watch.pk}")
    answer = finished(technician_client, page, technician, gas="dry nitrogen")
    assert answer.status_code == 422
    assert "two readings or more" in words(answer)
    watch.refresh_from_db()
    assert watch.ended_at is None


def test_a_watch_of_another_visit_ends_no_step_here(
    running: Callable[..., Watch], arrive: Any, make_vehicle: Any, send_once: Make
) -> None:
    watch = running()
    other = arrive(make_vehicle("V2"), state="runs")
    rows = {"readings_rows": "2", "readings_pressure_unit": "psi"}
    for row, time in enumerate(("0", "20")):
        rows |= {f"readings_{row}_time": time, f"readings_{row}_pressure": "150"}
    sent = {"gas": "dry nitrogen", "watch": str(watch.pk), **rows}
    answer = send_once(f"visits/{other.number}/add/pressure-hold/", **sent)
    assert answer.status_code == 422
    assert not Step.objects.filter(kind="pressure hold").exists()


def test_drop_asks_first_and_then_nothing_counts(
    running: Callable[..., Watch], technician_client: Client, at: Any, read: Make, visit: Visit
) -> None:
    watch, key = running(key="6f3d6c0e-8a52-4f9e-9d39-0a51b8a3a6d1"), "6f3d6c0e-8a52-4f9e-9d39-0a51b8a3a6d1"
    page = technician_client.get(at(watch, "drop/"))
    assert "with 1 reading" in words(page)
    watch.refresh_from_db()
    assert watch.ended_at is None
    assert technician_client.post(at(watch, "drop/"), form_of(page)).status_code == 303
    assert technician_client.post(at(watch, "drop/"), form_of(page)).status_code == 303
    assert read(watch, "149").status_code == 422
    assert running(key=key) == watch
    assert "Dropped at" in words(technician_client.get(at(watch)))
    assert "Under way" not in words(technician_client.get(f"{HOME}visits/{visit.number}/"))


def test_one_that_was_dropped_on_another_telephone_can_still_be_written(
    running: Callable[..., Watch], read: Make, technician_client: Client, technician: Any, visit: Visit,
    clock: Any, now: datetime,
) -> None:  # fmt: skip
    clock(now)
    watch = running()
    clock(now + timedelta(minutes=15))
    read(watch, "150")
    page = technician_client.get(f"{HOME}visits/{visit.number}/add/pressure-hold/?watch={watch.pk}")
    watching.drop(watch, by="p-other")
    assert finished(technician_client, page, technician, gas="dry nitrogen").status_code == 303
    watch.refresh_from_db()
    assert watch.step is not None
    with pytest.raises(Refused, match="was finished at"):
        watching.drop(watch, by="p-other")


def test_a_vacuum_hold_an_evacuation_and_a_wait_fill_their_forms(
    running: Callable[..., Watch], read: Make, technician_client: Client, visit: Visit, make_cylinder: Any,
    clock: Any, now: datetime,
) -> None:  # fmt: skip
    clock(now)
    held = running("vacuum-hold", pressure="500", pressure_unit="micron", temperature="20", temperature_unit="C")
    pulled = running("pulling-vacuum", pressure="")
    waited = running("recovery", pressure="-10", pressure_unit="inHg")
    assert [one.readings.count() for one in (held, pulled, waited)] == [1, 0, 1]
    clock(now + timedelta(minutes=5))
    read(held, "600", pressure_unit="micron")
    read(pulled, "760", pressure_unit="micron")
    read(pulled, "400", pressure_unit="micron")
    read(waited, "-9.5", pressure_unit="inHg", temperature="18", temperature_unit="C")
    form = form_of(technician_client.get(f"{HOME}visits/{visit.number}/add/vacuum-hold/?watch={held.pk}"))
    assert [form[f"readings_{row}_pressure"] for row in range(2)] == ["500", "600"]
    assert (form["readings_pressure_unit"], form["coldest"], form["readings_1_time"]) == ("micron", "20", "5")
    form = form_of(technician_client.get(f"{HOME}visits/{visit.number}/add/pulling-vacuum/?watch={pulled.pk}"))
    assert (form["lowest"], form["lowest_unit"]) == ("400", "micron")
    assert form["start"] < form["end"]
    taker = make_cylinder(kind="recovery", grade="recovered").account.number
    page = technician_client.get(f"{HOME}visits/{visit.number}/recover/?target={taker}")
    form = form_of(page)
    assert "what was read stands below" in words(page)
    found = [form[name] for name in ("final_pressure", "pressure_after_wait", "waited", "coldest", "watch")]
    assert found == ["-10", "-9.5", "5", "18", str(waited.pk)]


def test_the_wait_ends_with_the_recovery_that_it_belongs_to(
    running: Callable[..., Watch], read: Make, send: Make, visit: Visit, make_cylinder: Any, scale: Any,
    technician_client: Client, clock: Any, now: datetime,
) -> None:  # fmt: skip
    clock(now - timedelta(minutes=6))
    watch = running("recovery", pressure="-10", pressure_unit="inHg")
    clock(now - timedelta(minutes=1))
    read(watch, "-10", pressure_unit="inHg")
    clock(now)
    taker = make_cylinder(kind="recovery", grade="recovered")
    path = f"visits/{visit.number}/recover/?target={taker.account.number}"
    form = form_of(technician_client.get(HOME + path))
    answer = send(
        path, **{**form, "key": str(uuid4()), "before": "6.2 kg", "after": "6.7 kg", "scale": scale.number},
        stopped="done",
    )  # fmt: skip
    assert answer.status_code == 303, wrong(answer)
    watch.refresh_from_db()
    assert watch.step is not None
    assert watch.step.data["waited"]["si"] == pytest.approx(300.0)


def test_an_unlikely_pressure_that_was_insisted_on_is_not_asked_about_twice(
    running: Callable[..., Watch], read: Make, technician_client: Client, technician: Any, visit: Visit,
    clock: Any, now: datetime,
) -> None:  # fmt: skip
    clock(now)
    watch = running(pressure="900", pressure_reading="=900 psi")
    clock(now + timedelta(minutes=30))
    read(watch, "150")
    page = technician_client.get(f"{HOME}visits/{visit.number}/add/pressure-hold/?watch={watch.pk}")
    assert finished(technician_client, page, technician, gas="dry nitrogen").status_code == 303
    assert Step.objects.get(kind="pressure hold").data["readings"]["si"][0]["pressure_pa"] > 6e6


def test_midnight_and_the_end_of_summer_time_leave_the_minutes_right(
    running: Callable[..., Watch], read: Make, technician_client: Client, technician: Any, visit: Visit,
    workshop: Any, clock: Any,
) -> None:  # fmt: skip
    workshop.zone = "Europe/Berlin"
    workshop.save()
    zone = ZoneInfo("Europe/Berlin")
    clock(datetime(2025, 10, 25, 23, 30, tzinfo=zone).astimezone(UTC))
    watch = running(planned="16 h")
    clock(datetime(2025, 10, 26, 2, 30, tzinfo=zone, fold=1).astimezone(UTC))
    page = words(technician_client.get(f"{HOME}visits/{visit.number}/under-way/{watch.pk}/"))
    assert "12 h 00 min 00 s left" in page
    assert "since 2025-10-25 23:30" in page
    assert "until 14:30" in page
    read(watch, "150")
    clock(datetime(2025, 10, 26, 3, 10, tzinfo=zone).astimezone(UTC))
    finish = technician_client.get(f"{HOME}visits/{visit.number}/add/pressure-hold/?watch={watch.pk}")
    assert form_of(finish)["readings_1_time"] == "240"
    assert finished(technician_client, finish, technician, gas="dry nitrogen").status_code == 303
    step = Step.objects.get(kind="pressure hold")
    assert step.occurred_at == datetime(2025, 10, 26, 1, 30, tzinfo=UTC)


def test_what_runs_stands_on_the_logbook_and_its_visit_and_hand_over_names_it(
    running: Callable[..., Watch], technician_client: Client, reader_client: Client, visit: Visit, at: Any
) -> None:
    watch = running()
    for address in (HOME, f"{HOME}visits/{visit.number}/", f"{HOME}visits/{visit.number}/hand-over/"):
        page = words(technician_client.get(address))
        assert "Pressure hold, V1" in page
        assert "Enter a reading" in page
        assert re.search(r"1[45] min \d\d s left", page)
    assert "Not finished here: pressure hold since" in page
    for address in (HOME, at(watch)):
        page = words(reader_client.get(address))
        assert "Pressure hold, V1" in page
        assert "Enter a reading" not in page
    for words_of_a_writer in ("Finish", "Drop", "Put it right", "Enter this reading", "Change the length"):
        assert words_of_a_writer not in page


def test_many_under_way_are_read_by_as_many_queries_as_one(
    running: Callable[..., Watch], workshop: Any, arrive: Any, make_vehicle: Any, technician: Any, now: datetime
) -> None:
    def queries() -> int:
        with CaptureQueriesContext(connection) as found:
            said = [(one.name, one.rows, one.planned) for one in underway.under_way(workshop, now)]
        assert len(said) == Watch.objects.count()
        return len(found)

    running()
    one = queries()
    for number in range(5):
        other = arrive(make_vehicle(f"W{number}"), state="runs")
        watching.start(
            other, HOLD, key=uuid4(), by=technician.handle, started_at=now, planned_s=60.0, data={}, reading=READ
        )
    assert queries() == one == 2


def test_an_address_that_would_finish_what_has_ended_leads_to_what_became_of_it(
    running: Callable[..., Watch], technician_client: Client, at: Any, visit: Visit
) -> None:
    watch = running()
    watching.drop(watch, by="p-other")
    answer = technician_client.get(f"{HOME}visits/{visit.number}/add/pressure-hold/?watch={watch.pk}")
    assert (answer.status_code, answer["Location"]) == (303, at(watch))


def test_the_length_is_changed_and_the_next_one_begins_with_it(
    running: Callable[..., Watch], technician_client: Client, at: Any, arrive: Any, make_vehicle: Any
) -> None:
    watch = running()
    assert technician_client.post(at(watch, "length/"), {"planned": "2 h"}).status_code == 303
    assert re.search(r"1 h 59 min|2 h 00 min", words(technician_client.get(at(watch))))
    assert technician_client.post(at(watch, "length/"), {"planned": "soon"}).status_code == 422
    other = arrive(make_vehicle("V2"), state="runs")
    form = form_of(technician_client.get(f"{HOME}visits/{other.number}/watch/pressure-hold/"))
    assert (form["planned"], form["planned_unit"]) == ("2", "h")


def test_a_pressure_hold_says_how_long_it_takes_to_see_the_yardstick_and_what_is_too_much(
    running: Callable[..., Watch], technician_client: Client, at: Any, visit: Visit
) -> None:
    visit.vehicle.weakest_side_pa = 1_000_000.0
    visit.vehicle.save()
    page = words(technician_client.get(at(running(temperature="20", temperature_unit="C"))))
    assert re.search(
        r"To see 40 g a year of R-134a with these instruments it would have to stand [\d.]+ (h|days)", page
    )
    assert "that the weakest side allows. Relieve it through the regulator." in page
    assert "Dry nitrogen only" in page


def test_the_cautions_stand_where_it_is_started(technician_client: Client, visit: Visit) -> None:
    page = words(technician_client.get(f"{HOME}visits/{visit.number}/watch/pressure-hold/"))
    assert "Dry nitrogen only, through a regulator and a relief valve." in page
    assert "Start its clock" in words(technician_client.get(f"{HOME}visits/{visit.number}/add/pressure-hold/"))


def test_what_a_person_started_is_handed_out_with_their_data(
    running: Callable[..., Watch], technician: Any, workshop: Any
) -> None:
    watch = running()
    found = person_data(technician, workshop)["watches"]
    assert [(one["visit"], one["kind"], one["started"]) for one in found] == [
        (watch.visit.number, "pressure hold", True)
    ]


@pytest.mark.django_db(transaction=True)
def test_telephones_that_press_at_once_start_one_and_lose_no_reading(
    visit: Visit, technician: Any, now: datetime
) -> None:
    together, said = Barrier(3), []

    def press(act: Callable[[UUID], Any]) -> None:
        connection.ensure_connection()
        together.wait()
        try:
            said.append(act(uuid4()))
        except Refused as error:
            said.append(str(error))
        finally:
            connection.close()

    def at_once(act: Callable[[UUID], Any]) -> list[Any]:
        said.clear()
        hands = [Thread(target=press, args=(act,)) for _ in range(3)]
        for hand in hands:
            hand.start()
        for hand in hands:
            hand.join()
        return list(said)

    def start(key: UUID) -> Watch:
        return watching.start(
            visit, HOLD, key=key, by=technician.handle, started_at=now, planned_s=60.0, data={}, reading=READ
        )

    started = at_once(start)
    watch = Watch.objects.get()
    assert [one for one in started if isinstance(one, Watch)] == [watch]
    later = now + timedelta(minutes=1)
    at_once(lambda key: watching.add_reading(watch, key=key, by=technician.handle, taken_at=later, data=READ))
    assert watch.readings.count() == 4
