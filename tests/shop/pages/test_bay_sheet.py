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
from shop.pages.forms.sheet import ROWS
from tests.answers import words

SHEET = "/w/port-ellery/visits/1/sheet/"


@pytest.fixture
def visit(send: Callable[..., Any], make_vehicle: Callable[..., Any]) -> Visit:
    make_vehicle("V1", nameplate_tolerance_mg=15_000)
    send("visits/new/", registration="V1", state="runs")
    return Visit.objects.get()


@pytest.fixture
def type_in(technician_client: Client, technician: Any, scale: Any) -> Callable[..., Any]:
    """Send a sheet of lines; sent again, it takes along what was read back."""
    keys = [str(uuid4()) for _ in range(ROWS)]

    def press(*lines: dict[str, Any], after: Any = None) -> Any:
        sent = {"doer": technician.handle, "scale": str(scale.number)}
        for number, key in enumerate(keys):
            line = lines[number] if number < len(lines) else {}
            seen = after.context["rows"][number].signature if after else ""
            sent |= {f"row{number}-{name}": str(value) for name, value in {"key": key, "seen": seen, **line}.items()}
        return technician_client.post(SHEET, sent)

    return press


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
    lines = (
        leg(cylinder, 30, "10.900 kg", "10.650 kg"),
        {"what": "part in", "at": ago(60), "part": "drier", "oil": "20 mL"},
        leg(cylinder, 40, "11.200 kg", "10.900 kg"),
    )
    before = Entry.objects.count()
    shown = type_in(*lines)
    assert shown.status_code == 200, words(shown)
    assert "Read this back" in words(shown)
    assert Entry.objects.count() == before
    written = type_in(*lines, after=shown)
    while written.context["waiting"]:  # a line that the one before it has changed is read back again
        written = type_in(*lines, after=written)
    assert written.status_code == 200, words(written)
    assert list(Step.objects.order_by("pk").values_list("kind", flat=True)) == [
        "received",
        "part in",
        "charge",
        "charge",
    ]
    last, first = Entry.objects.order_by("-seq").values_list("occurred_at", flat=True)[:2]
    assert first < last < timezone.now() - timedelta(minutes=20)
    assert held(visit.vehicle) == {("R-134a", ""): 550_000}
    again = type_in(*lines, after=shown)
    assert Entry.objects.count() == before + 2
    assert words(again).count("Written as line") == 2


def test_a_line_that_is_refused_says_why_and_those_before_it_stay_written(
    visit: Visit, cylinder: Any, scale: Any, type_in: Any, send: Any
) -> None:
    lines = [
        {"what": "part in", "at": ago(60), "part": "drier"},
        leg(cylinder, 50, "11.200 kg", "10.900 kg"),
        {"what": "part in", "at": ago(20), "part": "valve"},
    ]
    shown = type_in(*lines)
    send(f"cylinders/{cylinder.account.number}/weigh/?check", gross="11.200 kg", scale=scale.number)  # meanwhile
    before = Entry.objects.count()
    answer = type_in(*lines, after=shown)
    while answer.status_code == 200 and answer.context["waiting"]:
        answer = type_in(*lines, after=answer)
    assert answer.status_code == 422
    assert "was weighed later than that already" in words(answer)
    assert Entry.objects.count() == before
    assert list(Step.objects.order_by("pk").values_list("kind", flat=True)) == ["received", "part in"]
    assert 'value="valve"' in answer.content.decode()


def test_a_line_without_time_or_with_an_unread_mass_writes_nothing(visit: Visit, cylinder: Any, type_in: Any) -> None:
    before = Entry.objects.count()
    answer = type_in({**leg(cylinder, 9, "11.200 kg", "10.900 kg"), "at": ""}, leg(cylinder, 8, "heavy", "1 kg"))
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
    assert "Choose: why it stopped." in words(type_in(line))
    shown = type_in({**line, "stopped": "done"})
    assert shown.context["rows"][0].told, words(shown)
