"""Standing pressures that cannot be, and vehicles back within a year of a mended leak."""

from datetime import date, timedelta
from typing import Any

import pytest

from compliance.rules.all import BY_ID
from compliance.rules.facts import Workshop
from compliance.rules.rule import MET, OPEN, judge
from tests.compliance.rules.builders import (
    DAY,
    TECHNICIAN,
    G,
    charge,
    deed,
    plain,
    recovery,
    repair,
    said,
    standing,
    vehicle,
    visit,
    workshop,
)

BEYOND, COPIED, BACK = (
    BY_ID[f"book-{name}"] for name in ("pressure-beyond-gas", "pressures-copied", "mended-and-back")
)
WARM_K = 293.15  # R-134a: 5.717 bar absolute, 4.704 above the air (reference equation of state)


@pytest.mark.parametrize(
    ("above_pa", "temperatures", "states"),
    [
        (470_000.0, {"warmest": WARM_K}, [MET]),
        (510_000.0, {"warmest": WARM_K}, [MET]),
        (520_000.0, {"warmest": WARM_K}, [OPEN]),
        (520_000.0, {}, []),
        (520_000.0, {"air": WARM_K, "since_running": 600.0}, []),
        (520_000.0, {"air": WARM_K, "since_running": 3_600.0}, [MET]),
        (900_000.0, {"air": WARM_K, "since_running": 3_600.0}, [OPEN]),
        (0.0, {"warmest": WARM_K}, [MET]),
    ],
)
def test_a_pressure_is_held_against_saturation(above_pa: float, temperatures: dict[str, float], states: Any) -> None:
    assert said(BEYOND, workshop("none", visit(standing(above_pa, **temperatures)))) == states


def test_the_air_of_the_running_test_of_that_day_bounds_it_too() -> None:
    stood = standing(900_000.0, since_running=3_600.0)
    assert said(BEYOND, workshop("none", visit(stood, deed("running test", hour=15, air=WARM_K)))) == [OPEN]


@pytest.mark.parametrize("gas", ["", "MIXED", "R-nonsense"])
def test_of_a_gas_that_nobody_knows_nothing_is_said(gas: str) -> None:
    car = vehicle(refrigerant=gas)
    assert said(BEYOND, workshop("none", visit(standing(2_000_000.0, warmest=WARM_K), vehicle=car))) == []


def test_words_say_how_far_and_what_else_it_can_be() -> None:
    (found,) = judge(BEYOND, workshop("none", visit(standing(670_000.0, warmest=WARM_K))))
    assert plain(found.words).startswith("The standing pressure is 2.00 bar above what R-134a can have")
    assert "It can also be air in it" in found.words


def read(number: int, text: str, air_k: float) -> Any:
    """A standing pressure of one vehicle, as it was typed."""
    data = {"pressure": {"text": text, "si": 570_000.0}, "air": {"text": "", "si": air_k}}
    on = DAY + timedelta(days=number)
    stood = deed("standing pressure", on=on, hour=9, data=data)
    return visit(stood, on=on, number=number, vehicle=vehicle(100 + number))


def test_one_pressure_again_and_again_whatever_the_weather_is_unusual() -> None:
    copies = [read(n, "4.7 bar", 283.0 + 7 * (n % 3)) for n in range(14)]
    facts = workshop("none", *copies)
    (found,) = judge(COPIED, facts)
    assert (found.state, found.person) == (OPEN, TECHNICIAN)
    assert found.words.startswith("Unusual: 13 of 14 standing pressures")


@pytest.mark.parametrize(
    ("copies", "states"),
    [
        ([read(n, "4.7 bar", 293.0) for n in range(14)], [MET]),  # of one warmth
        ([read(n, f"4.{n} bar", 283.0 + 7 * (n % 3)) for n in range(14)], [MET]),
        ([read(n, "0 bar", 283.0 + 7 * (n % 3)) for n in range(14)], []),
        ([read(n, "4.7 bar", 283.0 + 7 * (n % 3)) for n in range(11)], []),
    ],
)
def test_readings_that_may_be_alike(copies: list[Any], states: list[str]) -> None:
    assert said(COPIED, workshop("none", *copies)) == states


def back(days: int, *deeds: Any, **facts: Any) -> Workshop:
    """A vehicle whose hose was mended and that was charged, and its next visit so many days later."""
    later = DAY + timedelta(days=days)
    mended = visit(repair(), charge())
    return workshop("none", mended, visit(*deeds, on=later, number=13, **facts), today=date(2026, 12, 31))


def on(days: int) -> date:
    return DAY + timedelta(days=days)


@pytest.mark.parametrize(
    ("facts", "states"),
    [
        (back(90, recovery(400, on=on(90)), missing_mg=250 * G), [OPEN]),
        (back(365, recovery(400, on=on(365)), missing_mg=250 * G), [OPEN]),
        (back(366, recovery(400, on=on(366)), missing_mg=250 * G), []),
        (back(90, recovery(690, on=on(90))), [MET]),
        (back(365, recovery(650, on=on(365)), missing_mg=40 * G), [MET]),
        (back(365, recovery(650, on=on(365)), missing_mg=41 * G), [OPEN]),
        (back(90, recovery(400, on=on(90)), repair(on(90), joint="compressor"), missing_mg=250 * G), [MET]),
        (back(90, recovery(400, on=on(90)), repair(on(90), joint="Hose"), missing_mg=250 * G), [OPEN]),
        (back(90, deed("label read", on=on(90)), missing_mg=250 * G), []),
        (workshop("none", visit(charge()), visit(recovery(on=on(9)), on=on(9), missing_mg=99 * G)), []),
    ],
)
def test_a_mended_leak_that_lets_gas_go_again_is_asked_about(facts: Workshop, states: list[str]) -> None:
    assert said(BACK, facts) == states


def test_the_visit_that_mended_and_the_days_between_are_named() -> None:
    (found,) = judge(BACK, back(90, recovery(400, on=on(90)), missing_mg=250 * G))
    assert plain(found.words).startswith("At visit 12 a leak was mended (hose); 90 days later 250 g are missing")
    assert "can also be" in found.words
