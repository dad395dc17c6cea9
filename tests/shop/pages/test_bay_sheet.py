"""A bay sheet typed in: lines read back, written in order of their times, each once; what is refused stays as typed."""

from collections.abc import Callable
from datetime import timedelta
from typing import Any
from uuid import uuid4

import pytest
from django.test import Client
from django.utils import timezone

from inventory.models import Entry
from shop.models import Step, Visit
from tests.answers import words

SHEET = "/w/port-ellery/visits/1/sheet/"


@pytest.fixture
def visit(send: Callable[..., Any], make_vehicle: Callable[..., Any]) -> Visit:
    make_vehicle("V1", nameplate_tolerance_mg=15_000)
    send("visits/new/", registration="V1", state="runs")
    return Visit.objects.get()


@pytest.fixture
def type_in(technician_client: Client, technician: Any, scale: Any) -> Callable[..., Any]:
    """Send a sheet of lines by their places on it; sent again, it takes along what was read back."""
    keys: dict[str, str] = {}

    def press(lines: dict[str, dict[str, Any]], after: Any = None) -> Any:
        sent = {"doer": technician.handle, "scale": str(scale.number)}
        seen = {row.form.prefix: row.signature for row in rows_of(after)} if after else {}
        for place, line in lines.items():
            whole = {"key": keys.setdefault(place, str(uuid4())), "seen": seen.get(place, ""), **line}
            sent |= {f"{place}-{name}": str(value) for name, value in whole.items()}
        return technician_client.post(SHEET, sent)

    return press


def rows_of(answer: Any) -> list[Any]:
    return [row for _, _, rows in answer.context["parts"] for row in rows]


def written(type_in: Callable[..., Any], lines: dict[str, dict[str, Any]], shown: Any = None) -> Any:
    """Read the lines back and write them; a line that the one before it has changed is read back again."""
    answer = shown or type_in(lines)
    while answer.status_code == 200 and answer.context["waiting"]:
        answer = type_in(lines, after=answer)
    return answer


def ago(minutes: int) -> str:
    return f"{timezone.now() - timedelta(minutes=minutes):%Y-%m-%dT%H:%M:%S+00:00}"


def leg(cylinder: Any, minutes: int, before: str, after: str, what: str = "charge", **more: str) -> dict[str, Any]:
    return {"what": what, "at": ago(minutes), "cylinder": cylinder.account.number} | {
        "before": before,
        "after": after,
        **more,
    }


def test_lines_are_read_back_and_then_written_in_order_of_their_times_as_late_lines(
    visit: Visit, cylinder: Any, type_in: Any, held: Any
) -> None:
    lines = {
        "leg0": leg(cylinder, 30, "10.900", "10.650", before_unit="kg", after_unit="kg"),
        "part0": {"what": "part in", "at": ago(60), "part": "drier", "oil_in": "20 mL"},
        "leg1": leg(cylinder, 40, "11.200 kg", "10.900 kg"),
    }
    before = Entry.objects.count()
    shown = type_in(lines)
    assert shown.status_code == 200, words(shown)
    assert "Read this back" in words(shown)
    assert Entry.objects.count() == before
    answer = written(type_in, lines)
    assert answer.status_code == 200, words(answer)
    assert list(Step.objects.order_by("pk").values_list("kind", flat=True)) == [
        "received",
        "part in",
        "charge",
        "charge",
    ]
    last, first = Entry.objects.order_by("-seq").values_list("occurred_at", flat=True)[:2]
    assert first < last < timezone.now() - timedelta(minutes=20)
    assert held(visit.vehicle) == {("R-134a", ""): 550_000}
    again = type_in(lines, after=shown)
    assert Entry.objects.count() == before + 2
    assert words(again).count("Written as line") == 2


def test_a_line_that_is_refused_says_why_and_those_before_it_stay_written(
    visit: Visit, cylinder: Any, scale: Any, type_in: Any, send: Any
) -> None:
    lines = {
        "part0": {"what": "part in", "at": ago(60), "part": "drier"},
        "leg0": leg(cylinder, 50, "11.200 kg", "10.900 kg"),
        "part1": {"what": "part in", "at": ago(20), "part": "valve"},
    }
    shown = type_in(lines)
    send(f"cylinders/{cylinder.account.number}/weigh/?check", gross="11.200 kg", scale=scale.number)  # meanwhile
    before = Entry.objects.count()
    answer = written(type_in, lines, shown)
    assert answer.status_code == 422
    assert "was weighed later than that already" in words(answer)
    assert Entry.objects.count() == before
    assert list(Step.objects.order_by("pk").values_list("kind", flat=True)) == ["received", "part in"]
    assert 'value="valve"' in answer.content.decode()


def test_a_line_without_time_or_with_an_unread_mass_writes_nothing(visit: Visit, cylinder: Any, type_in: Any) -> None:
    before = Entry.objects.count()
    untimed = {**leg(cylinder, 9, "11.200 kg", "10.900 kg"), "at": ""}
    answer = type_in({"leg0": untimed, "leg1": leg(cylinder, 8, "heavy", "1 kg")})
    assert answer.status_code == 422
    assert "Enter the time that stands on the sheet." in words(answer)
    assert "heavy" in answer.content.decode()
    assert Entry.objects.count() == before


def test_what_came_out_is_entered_into_a_cylinder(
    visit: Visit, make_cylinder: Any, type_in: Any, technician_client: Client
) -> None:
    bottle = make_cylinder("C-REC", grade="recovered", kind="recovery", mass_mg=1_000_000)
    line = leg(bottle, 30, "7.200 kg", "7.500 kg", "recovery")
    assert technician_client.get(SHEET).status_code == 200
    assert "Choose: why it stopped." in words(type_in({"leg0": line}))
    shown = type_in({"leg0": {**line, "stopped": "done"}})
    assert rows_of(shown)[0].told, words(shown)


def test_a_hold_a_search_and_a_note_are_entered_from_the_sheet(visit: Visit, type_in: Any) -> None:
    readings = {"readings_rows": "3", "readings_pressure_unit": "psi", "readings_temperature_unit": "F"}
    for row, (time, pressure, temperature) in enumerate((("10:05", "250", "68"), ("10:25", "250", "68"))):
        readings |= {f"readings_{row}_time": time, f"readings_{row}_pressure": pressure}
        readings[f"readings_{row}_temperature"] = temperature
    lines = {
        "pressure-hold0": {"at": ago(50), "gas": "dry nitrogen", **readings},
        "leak-search0": {"at": ago(40), "method": "bubbles", "joints": "6", "leaking": "0", "note": "foam of Tuesday"},
        "pulling-vacuum0": {"at": ago(30), "lowest": "400", "lowest_unit": "micron"},
        "note0": {"at": ago(10), "note": "The left hose is chafed."},
    }
    answer = written(type_in, lines)
    assert answer.context["written"] == len(lines), words(answer)
    steps = {one.kind: one for one in Step.objects.all()}
    rows = steps["pressure hold"].data["readings"]["si"]
    assert [round(row["time_s"]) for row in rows] == [0, 1200]
    assert rows[0]["pressure_pa"] == pytest.approx(250 * 6894.757 + 101_325, rel=0.02)
    assert steps["leak search"].note == "foam of Tuesday"
    assert steps["pulling vacuum"].data["lowest"]["si"] == pytest.approx(400 * 0.1333, rel=1e-3)
    assert steps["paper sheet"].note == "The left hose is chafed."


def test_one_more_reading_judges_and_loses_nothing(visit: Visit, type_in: Any) -> None:
    hold = {"at": ago(50), "readings_rows": "2", "readings_0_time": "10:05", "readings_more": "1"}
    written(type_in, {"part0": {"what": "part in", "at": ago(60), "part": "drier"}})
    answer = type_in({"part0": {"what": "part in", "at": ago(60), "part": "drier"}, "pressure-hold0": hold})
    assert answer.status_code == 200
    assert 'value="10:05"' in answer.content.decode()
    assert 'name="pressure-hold0-readings_2_time"' in answer.content.decode()
    assert answer.context["written"] == 1


def test_an_unlikely_hold_is_asked_about_beside_its_line(visit: Visit, type_in: Any) -> None:
    rows = {"readings_rows": "2", "readings_0_time": "0", "readings_1_time": "20", "readings_pressure_unit": "bar"}
    hold = {"at": ago(50), "gas": "dry nitrogen", **rows, "readings_0_pressure": "250", "readings_1_pressure": "250"}
    answer = type_in({"pressure-hold0": hold})
    assert answer.status_code == 422
    assert "250 psi" in words(answer)
    assert not Step.objects.filter(kind="pressure hold").exists()


def test_oil_put_into_a_part_that_came_out_is_not_dropped_in_silence(visit: Visit, type_in: Any) -> None:
    answer = type_in({"part0": {"what": "part out", "at": ago(9), "part": "drier", "oil_in": "20 mL"}})
    assert answer.status_code == 422
    assert "Oil is put into a part that is fitted." in words(answer)
