"""At which gross a charge stops, in the displays of the scale: on records that were never saved."""

from typing import Any

import pytest

from inventory.models import Account, Cylinder, Scale, Weighing
from shop.visits import scale as scale_words


def on_scale(gross_mg: int, **step: str) -> Weighing:
    account = Account(kind="cylinder", label="C-1")
    Cylinder(account=account, tare_mg=5_000_000)
    scale = Scale(name="S1", step_mg=5_000, **step)
    return Weighing(account=account, scale=scale, gross_mg=gross_mg, role=Weighing.BEFORE)


def stop_said(*of: Any) -> str:
    return scale_words.stop_said(*of).replace("\N{NARROW NO-BREAK SPACE}", " ")


def test_it_names_the_display_at_which_the_label_is_in_it() -> None:
    said = stop_said(on_scale(12_000_000), 550_000, 0, "kg")
    assert said == "0.550 kg to charge: stop when the scale shows 11.450 kg gross."


def test_what_the_legs_before_put_in_is_taken_off() -> None:
    assert "stop when the scale shows 11.750 kg" in stop_said(on_scale(12_000_000), 550_000, 300_000, "kg")


@pytest.mark.parametrize("already_mg", [550_000, 600_000])
def test_a_target_that_is_reached_is_said_to_be(already_mg: int) -> None:
    assert stop_said(on_scale(12_000_000), 550_000, already_mg, "kg") == "The target of 0.550 kg is in it already."


def test_a_cylinder_with_too_little_never_names_a_display_below_its_empty_mass() -> None:
    said = stop_said(on_scale(5_400_000), 550_000, 0, "kg")
    assert said == "0.550 kg to charge: more than this cylinder holds."


def test_it_is_named_as_the_display_shows_it_and_not_between_two_steps() -> None:
    said = stop_said(on_scale(12_000_000), 552_000, 0, "kg")
    assert said.endswith("stop when the scale shows 11.450 kg gross.")
    pounds = on_scale(16_000_000, step_number="0.5", step_unit="lb oz")
    assert stop_said(pounds, 907_185, 0, "lb").endswith("stop when the scale shows 33 lb 4.5 oz gross.")
