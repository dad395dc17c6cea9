"""Whether a circuit is tight and dry, by the figures of the worked scenarios of the trade, through the pages.

Expected figures are worked by hand from the readings named beside them, with densities and saturation by CoolProp.
"""

from collections.abc import Callable
from typing import Any

import pytest
from django.test import Client

from inventory.models import Gauge
from shop.models import Step, Vehicle, Visit
from tests.shop.visits.looking import HOME, Make, held_vacuum, verdicts

WET = [("0", "1.5"), ("5", "9.8"), ("10", "14.3"), ("15", "16.7"), ("20", "17.9"), ("30", "19.0")]
LEAK = [("0", "1.5"), ("10", "2.5"), ("20", "3.5"), ("30", "4.5")]


@pytest.mark.parametrize(("rows", "verdict", "again"), [(WET, "moisture", "pull again"), (LEAK, "leak", "repair it")])
def test_a_vacuum_that_rises_is_pulled_again_and_the_vehicle_is_not_called_empty(
    rows: Any, verdict: str, again: str, start: Callable[..., Visit], step: Make, gauges: Any, technician_client: Client
) -> None:
    visit = start(volume_m3=0.002)
    assert step(visit, "vacuum-hold", **held_vacuum(rows, gauges)).status_code == 303
    told = verdicts(visit)["vacuum hold"]
    assert told.answer is not None
    assert told.answer.verdict == verdict
    assert any(again in more for more in told.more)
    assert Vehicle.objects.get().content == "unknown"
    row = Step.objects.get(kind="vacuum hold")
    page = technician_client.get(f"{HOME}visits/{visit.number}/steps/{row.pk}/").content.decode()
    assert "<svg" in page
    assert "water" in page


def test_a_gauge_that_nobody_entered_is_said(start: Callable[..., Visit], step: Make) -> None:
    visit = start(volume_m3=0.002)
    fields = held_vacuum([("0", "1.5"), ("30", "1.5")], {"G2": Gauge(pk=0)})
    fields["gauge"] = ""
    assert step(visit, "vacuum-hold", **fields).status_code == 303
    assert any("steps of 0.1 mbar are assumed" in more for more in verdicts(visit)["vacuum hold"].more)


@pytest.fixture
def held(start: Callable[..., Visit], step: Make, gauges: Any) -> Visit:
    """250 psi at 22 C, 251 psi at 23 C after 20 minutes, in two litres."""
    visit = start(volume_m3=0.002)
    fields = {"readings_rows": "2", "readings_pressure_unit": "psi", "gauge": str(gauges["G9"].pk)}
    for row, (minute, psi, celsius) in enumerate((("0", "250", "22.0"), ("20", "251", "23.0"))):
        fields |= {f"readings_{row}_time": minute, f"readings_{row}_pressure": psi}
        fields |= {f"readings_{row}_temperature": celsius}
    assert step(visit, "pressure-hold", gas="dry nitrogen", **fields).status_code == 303
    return visit


def test_a_hold_of_20_minutes_sees_only_kilograms_a_year(held: Visit, technician_client: Client) -> None:
    told = verdicts(held)["pressure hold"]
    assert "5.4 kg a year" in told.sentence
    row = Step.objects.get(kind="pressure hold")
    page = technician_client.get(f"{HOME}visits/{held.number}/steps/{row.pk}/").content.decode()
    assert "<svg" in page
    assert "JCGM 100:2008" in page


SEARCH = {"method": "electronic", "sensitivity": "5", "gas": "refrigerant", "pressure": "5", "pressure_unit": "bar"}


def test_a_search_is_said_together_with_the_hold(held: Visit, step: Make) -> None:
    step(held, "leak-search", joints="14", leaking="0", **SEARCH)
    sentence = verdicts(held)["leak search"].sentence
    assert sentence.startswith("Electronic search: none above 5.0 g a year at the 14 joints looked at")
    assert "pressure hold: no leak larger than 5.4 kg a year, a coarse check" in sentence


def test_joints_that_leak_are_named_where_they_were_and_only_counted_elsewhere(held: Visit, step: Make) -> None:
    step(held, "leak-search", joints="14", leaking="2", **SEARCH)
    assert "2 of the 14 joints looked at leak;" in verdicts(held)["leak search"].sentence
    step(held, "leak-search", joints="14", leaking="2", where="drier inlet, high port", **SEARCH)
    assert "leak (drier inlet, high port)" in verdicts(held)["leak search"].sentence


def test_an_electronic_search_with_nitrogen_inside_cannot_tell(held: Visit, step: Make) -> None:
    step(held, "leak-search", joints="14", leaking="0", **{**SEARCH, "gas": "dry nitrogen"})
    assert "cannot tell" in verdicts(held)["leak search"].sentence


@pytest.mark.parametrize("typed", ["29 inHg below atmosphere", "-29 inHg"])
def test_at_1500_m_29_inhg_of_vacuum_cannot_be(
    typed: str, workshop: Any, start: Callable[..., Visit], step: Make
) -> None:
    type(workshop).objects.filter(pk=workshop.pk).update(altitude_m=1_500.0)
    visit = start(volume_m3=0.002)
    response = step(visit, "pulling-vacuum", lowest=typed)
    assert response.status_code == 422
    assert "24.97" in response.content.decode()
