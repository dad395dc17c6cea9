"""An odometer and when to look again: what says neither is asked for beside its field, and stays typed."""

from typing import Any

import pytest

from shop.models import Step, Visit

HOME = "/w/port-ellery/"


@pytest.mark.parametrize(
    ("typed", "kept"),
    [
        ("148220", "148220 km"),
        ("148,220 miles", "148,220 miles"),
        ("91 500 km", "91 500 km"),
        ("not known", "not known"),
        ("soon", None),
        ("12 lemons", None),
    ],
)
def test_an_odometer_takes_a_number(send_once: Any, make_vehicle: Any, typed: str, kept: str | None) -> None:
    make_vehicle("KX 4471")
    answer = send_once("visits/new/", registration="KX 4471", state="runs", odometer=typed)
    if kept is None:
        assert "is not what an odometer shows" in str(answer.context["form"].errors["odometer"])
        assert f'value="{typed}"' in answer.content.decode(), "what was typed stays"
        assert not Visit.objects.exists()
    else:
        assert answer.status_code == 303
        assert Step.objects.get(kind="received").data["odometer"]["text"] == kept


@pytest.mark.parametrize(
    ("typed", "refused"),
    [
        ("in 12 months", ""),
        ("before the next summer", ""),
        ("2999-05-01", ""),
        ("not needed", ""),
        ("lemons", "says no time"),
        ("2001-05-01", "That day is over"),
    ],
)
def test_when_to_look_again_is_a_day_or_a_time_from_now(
    send_once: Any, make_vehicle: Any, typed: str, refused: str
) -> None:
    make_vehicle("KX 4471")
    assert send_once("visits/new/", registration="KX 4471", state="runs").status_code == 303
    answer = send_once("visits/1/hand-over/", next_look=typed)
    said = str(answer.context["form"].errors.get("next_look", "")) if answer.context else ""
    assert (refused in said) if refused else not said
    assert Step.objects.filter(kind="hand-over").exists() is not bool(refused)
