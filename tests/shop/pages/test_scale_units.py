"""A scale in pounds and ounces through the pages of a workshop that works in them, and slips of the hand at it."""

import re
from collections.abc import Callable
from typing import Any
from uuid import uuid4

import pytest
from django.test import Client

from inventory.models import Scale, Weighing

HOME = "/w/port-ellery/"
FOUNDRY = re.compile(r"<[^>]+>|\s+")


def seen(response: Any) -> str:
    """The words of a page, with plain spaces."""
    return " ".join(FOUNDRY.sub(" ", response.content.decode().replace("\N{NARROW NO-BREAK SPACE}", " ")).split())


def enter_scale(client: Client, step: str, unit: str, name: str = "S3") -> Scale:
    sent = {"name": name, "step": step, "step_unit": unit, "capacity": "220", "capacity_unit": "lb"}
    response = client.post(f"{HOME}settings/scales/new/", sent)
    assert response.status_code == 303, seen(response)
    return Scale.objects.get(name=name)


@pytest.mark.parametrize(
    ("step", "unit", "number", "kept"),
    [
        ("0.5", "oz", "0.5", "oz"),
        ("0.5", "lb oz", "0.5", "lb oz"),
        ("0.02", "lb", "0.02", "lb"),
        ("0,1 lb", "oz", "0.1", "lb"),
        ("2", "g", "2", "g"),
        ("500 mg", "g", "0.5", "g"),
    ],
)
def test_a_step_is_kept_as_typed_and_stands_in_its_form_again(
    owner_client: Client, in_pounds: Any, step: str, unit: str, number: str, kept: str
) -> None:
    scale = enter_scale(owner_client, step, unit)
    assert (scale.step_number, scale.step_unit) == (number, kept)
    path = f"{HOME}settings/scales/{scale.number}/"
    page = owner_client.get(path).content.decode()
    assert f'name="step" id="id_step" value="{number}"' in page
    assert f'<option value="{kept}" selected>' in page
    assert 'name="capacity" id="id_capacity" value="220 lb"' in page
    again = {"name": "S3", "step": number, "step_unit": kept, "capacity": "220 lb", "zero": "", "span": ""}
    assert owner_client.post(path, again).status_code == 303
    changed = Scale.objects.get(name="S3")
    assert (changed.step, changed.capacity_mg) == (scale.step, scale.capacity_mg)


@pytest.fixture
def weigh(technician_client: Client, in_pounds: Any) -> Callable[..., Any]:
    """Send a reading as it is typed, through the read-back page where one comes; ``pages`` are all that came."""

    def post(cylinder: Any, query: str = "", **sent: Any) -> Any:
        path = f"{HOME}cylinders/{cylinder.account.number}/weigh/{query}"
        fields = {"key": str(uuid4()), **sent}
        response = technician_client.post(path, fields)
        pages = [response]
        if response.status_code == 200 and b'name="read_back"' in response.content:
            response = technician_client.post(path, {**fields, "read_back": response.context["signature"]})
            pages.append(response)
        response.pages = pages  # type: ignore[attr-defined] # for the test alone
        return response

    return post


@pytest.mark.parametrize(
    ("step", "unit", "typed", "typed_unit", "gross"),
    [
        ("0.5", "lb oz", "24 11.5", "lb oz", "24 lb 11.5 oz gross"),
        ("0.5", "lb oz", "24 lb 11.5 oz", "lb", "24 lb 11.5 oz gross"),
        ("0.5", "lb oz", "25", "lb oz", "25 lb 0.0 oz gross"),
        ("0.5", "oz", "395.5", "oz", "395.5 oz gross"),
        ("0.02", "lb", "24.68", "lb", "24.68 lb gross"),
        ("0.1", "lb", "24.7", "lb", "24.7 lb gross"),
        ("0.02", "lb", "11.195", "kg", "24.68 lb gross"),
    ],
)
def test_an_honest_reading_is_written_and_spoken_of_in_its_unit(
    owner_client: Client,
    weigh: Callable[..., Any],
    cylinder: Any,
    step: str,
    unit: str,
    typed: str,
    typed_unit: str,
    gross: str,
) -> None:
    scale = enter_scale(owner_client, step, unit)
    form = owner_client.get(f"{HOME}cylinders/{cylinder.account.number}/weigh/").content.decode()
    assert f'<option value="{unit}" selected>' in form
    sent = {"gross": typed, "gross_unit": typed_unit, "scale": scale.number}
    response = weigh(cylinder, "?check", **sent)
    assert response.status_code == 303, seen(response)
    weighing = Weighing.objects.get()
    assert scale.step.shows(weighing.gross_mg)
    back = seen(response.pages[0])
    assert f"Read as {gross}, net" in back
    assert not re.search(r"\d (kg|g)\b", back), back
    page = seen(owner_client.get(f"{HOME}cylinders/{cylinder.account.number}/"))
    assert gross in page


def test_between_two_steps_the_two_displays_are_proposed_beside_the_field(
    owner_client: Client, weigh: Callable[..., Any], cylinder: Any
) -> None:
    scale = enter_scale(owner_client, "0.02", "lb")
    response = weigh(cylinder, gross="24.69", gross_unit="lb", scale=scale.number)
    assert response.status_code == 422
    html = response.content.decode()
    assert re.findall(r'name="gross_reading" value="([^"]+)"', html) == ["24.68 lb", "24.70 lb", "=24.69 lb"]
    field = html[html.index('<label for="id_gross"') : html.index('id="id_gross"')]
    assert field.count('name="gross_reading"') == 3  # between its label and its input, not elsewhere
    assert "(0.02 lb)" in seen(response)


def test_a_decimal_slip_is_refused_at_the_scale_with_the_reading_that_was_meant(
    owner_client: Client, weigh: Callable[..., Any], cylinder: Any
) -> None:
    scale = enter_scale(owner_client, "0.02", "lb")
    response = weigh(cylinder, "?check", gross="184.2", gross_unit="lb", scale=scale.number)
    assert response.status_code == 422
    assert "it holds" in seen(response)
    assert 'value="184.2"' in response.content.decode()
    assert '<button name="gross_reading" value="18.42 lb">18.42 lb?</button>' in response.content.decode()
    assert weigh(cylinder, "?check", gross="184.2", gross_reading="=184.2 lb", scale=scale.number).status_code == 422
    assert not Weighing.objects.exists()


def test_only_a_check_keeps_the_reading_that_was_typed(
    technician_client: Client, in_pounds: Any, cylinder: Any, make_scale: Callable[..., Any]
) -> None:
    scale = make_scale("S3", step_mg=9_072, step_number="0.02", step_unit="lb")
    path = f"{HOME}cylinders/{cylinder.account.number}/weigh/"
    page = technician_client.get(path).content.decode()
    button = page[: page.index("Only a check weighing</button>")].rpartition("<button")[2]
    assert 'form="reading"' in button
    assert f'formaction="{path}?check"' in button
    typed = {"key": str(uuid4()), "gross": "24.68", "gross_unit": "lb", "scale": scale.number, "note": "warm"}
    response = technician_client.post(f"{path}?check", {**typed, "change": "1"})
    assert response.status_code == 200
    html = response.content.decode()
    assert "<h1>Check weighing</h1>" in html
    assert 'value="24.68"' in html
    assert "warm</textarea>" in html
    assert not Weighing.objects.exists()


def test_a_difference_is_said_in_ounces(
    owner_client: Client, technician_client: Client, weigh: Callable[..., Any], cylinder: Any
) -> None:
    scale = enter_scale(owner_client, "0.5", "lb oz")
    assert weigh(cylinder, "?check", gross="24 lb 11.0 oz", scale=scale.number).status_code == 303
    path = f"{HOME}cylinders/{cylinder.account.number}/weigh/echo/"
    echo = technician_client.get(path, {"gross": "24 lb 4.5 oz", "scale": scale.number})
    assert "Read as 24 lb 4.5 oz gross, net" in seen(echo)
    assert "6.5 oz less than last time: unexplained" in seen(echo)
    assert not re.search(r"\d (kg|g)\b", seen(echo))
