"""Simulated vacuum holds of known cause, and what a vacuum hold refuses."""

from collections import Counter
from collections.abc import Callable
from dataclasses import replace
from math import exp
from random import Random
from statistics import NormalDist

import pytest
from hypothesis import given
from hypothesis import strategies as st

from inventory.gases.testgases import water_vapour_pressure_pa
from inventory.measure.own import METRIC
from inventory.measure.spoken import in_own_units
from shop.bench.answers import PA_PER_INHG, Answer, MeasurementError
from shop.bench.insides import of_class
from shop.bench.leakrate import WILKE
from shop.bench.vacuum import FITS, TELLS_APART, check_vacuum_pa, judge
from shop.bench.vacuumfits import NEEDLE, Vacuum, VacuumReading

RUNS = 100
ATMOSPHERE_PA = 101_325.0


def said(answer: Answer) -> str:
    """The sentence as who reads mbar and C reads it."""
    return in_own_units(answer.sentence, METRIC)


def a_vacuum(*mbar: float, **changes: object) -> Vacuum:
    """Readings ten minutes apart on a gauge of 0.1 mbar, at 20 C."""
    readings = tuple(VacuumReading(600.0 * i, 100.0 * p) for i, p in enumerate(mbar or (1.5, 1.5, 1.5, 1.5)))
    vacuum = Vacuum(
        readings=readings, temperature_k=293.15, volume_m3=0.002, refrigerant="R-134a", pressure_step_pa=10.0
    )
    return replace(vacuum, **changes)  # type: ignore[arg-type]


def shown(times_s: list[float], curve: Callable[[float], float], temperature_k: float) -> Vacuum:
    """What a gauge of 0.1 mbar shows of a curve."""
    readings = tuple(VacuumReading(t, round(curve(t) / 10) * 10.0) for t in times_s)
    return a_vacuum(readings=readings, temperature_k=temperature_k)


def verdicts(seed: int, curve_of: Callable[[Random, float, float], Callable[[float], float]]) -> Counter[str]:
    """Verdicts of seeded runs; `curve_of` makes pressure over time from chance, duration and temperature."""
    random = Random(seed)
    counted: Counter[str] = Counter()
    for _ in range(RUNS):
        count, duration_s, temperature_k = random.randint(5, 9), random.uniform(1200, 3600), random.uniform(285, 303)
        times_s = [duration_s * i / (count - 1) for i in range(count)]
        counted[judge(shown(times_s, curve_of(random, duration_s, temperature_k), temperature_k)).verdict] += 1
    return counted


def towards(random: Random, duration_s: float, level_pa: float, slowest: float = 0.6) -> Callable[[float], float]:
    start_pa, time_s = random.uniform(50, 300), random.uniform(0.15, slowest) * duration_s
    return lambda t: level_pa - (level_pa - start_pa) * exp(-t / time_s)


def water_pa(random: Random, temperature_k: float) -> float:
    """Water's pressure at what the part really has while the thermometer shows `temperature_k`."""
    return water_vapour_pressure_pa(temperature_k + random.uniform(-0.5, 0.5))


def steady(random: Random, duration_s: float, least_pa: float, most_pa: float) -> Callable[[float], float]:
    start_pa, rate = random.uniform(50, 300), random.uniform(least_pa, most_pa) / duration_s
    return lambda t: start_pa + rate * t


def flickering(random: Random) -> Callable[[float], float]:
    level_pa = random.uniform(50, 300)
    return lambda _t: level_pa + random.uniform(-4, 4)


def test_a_tight_system_is_called_leaking_in_at_most_five_of_a_hundred() -> None:
    counted = verdicts(1, lambda random, _duration_s, _k: flickering(random))
    assert RUNS - counted["tight"] <= 5


def test_a_leak_is_called_a_leak() -> None:
    assert verdicts(2, lambda random, duration_s, _k: steady(random, duration_s, 300, 3000))["leak"] >= 95


def test_a_leak_of_any_size_is_called_moisture_in_at_most_five_of_a_hundred() -> None:
    assert verdicts(3, lambda random, duration_s, _k: steady(random, duration_s, 15, 300))["moisture"] <= 5


def test_moisture_is_called_moisture() -> None:
    counted = verdicts(4, lambda random, duration_s, k: towards(random, duration_s, water_pa(random, k)))
    assert counted["moisture"] >= 95


def test_slow_moisture_is_called_a_leak_in_at_most_five_of_a_hundred() -> None:
    counted = verdicts(5, lambda random, duration_s, k: towards(random, duration_s, water_pa(random, k), slowest=30))
    assert counted["leak"] <= 5


def test_levelling_off_well_above_water_is_outgassing() -> None:
    counted = verdicts(
        6,
        lambda random, duration_s, k: towards(random, duration_s, random.uniform(1.5, 4) * water_pa(random, k)),
    )
    assert counted["outgassing"] >= 95


@pytest.mark.parametrize(("seed", "least", "most"), [(7, 1.06, 1.3), (8, 0.7, 0.94)])
def test_levelling_off_close_to_water_but_not_at_it_is_called_moisture_in_at_most_five_of_a_hundred(
    seed: int, least: float, most: float
) -> None:
    counted = verdicts(
        seed,
        lambda random, duration_s, k: towards(random, duration_s, random.uniform(least, most) * water_pa(random, k)),
    )
    assert counted["moisture"] + counted["leak"] <= 5


def test_outgassing_that_is_slow_to_level_off_is_called_a_leak_in_at_most_five_of_a_hundred() -> None:
    counted = verdicts(
        9,
        lambda random, duration_s, k: towards(
            random, duration_s, random.uniform(1.5, 4) * water_pa(random, k), slowest=5
        ),
    )
    assert counted["leak"] <= 5


def test_a_leak_of_known_size_lies_within_its_stated_uncertainty_in_ninety_five_of_a_hundred() -> None:
    random = Random(10)
    inside = told = 0
    for _ in range(RUNS):
        count, duration_s = random.randint(5, 9), random.uniform(1200, 3600)
        times_s = [duration_s * i / (count - 1) for i in range(count)]
        start_pa, rate = random.uniform(50, 300), random.uniform(300, 3000) / duration_s
        answer = judge(shown(times_s, lambda t, start_pa=start_pa, rate=rate: start_pa + rate * t, 293.15))
        if answer.seen.leak is not None and answer.seen.u_leak is not None:
            told += 1
            inside += abs(answer.seen.leak.usual - rate * 0.002) <= 2 * answer.seen.u_leak.usual
    assert told >= 95
    assert inside >= 0.95 * told


@given(st.floats(0.01, 100))
def test_two_curves_are_mixed_up_in_at_most_five_of_a_hundred_whatever_lies_between_them(distance: float) -> None:
    """The margin that the module derives: the chance that the wrong one of two given curves is preferred."""
    wrong = 1 - NormalDist().cdf((TELLS_APART + distance**2) / (2 * distance))
    assert wrong <= 0.05 + 1e-9


def test_the_points_of_the_criterion_are_those_of_the_tables() -> None:
    """NIST/SEMATECH e-Handbook of Statistical Methods, 1.3.6.7.4, 1 degree of freedom: 2.706 at 10 %, 6.635 at 1 %."""
    assert pytest.approx(2.706, abs=0.0005) == TELLS_APART
    assert pytest.approx(6.635, abs=0.0005) == FITS


def test_a_leak_is_said_to_look_like_slow_outgassing() -> None:
    cautions = judge(a_vacuum(1.5, 4.5, 7.5, 10.5, 13.5)).cautions
    assert any("long before it levels off" in caution for caution in cautions)
    assert not any("long before it levels off" in caution for caution in judge(a_vacuum()).cautions)


def test_a_flicker_of_one_step_is_no_rise_and_widens_the_limit() -> None:
    flat, flicker = judge(a_vacuum(1.5, 1.5, 1.5, 1.5)), judge(a_vacuum(1.5, 1.5, 1.6, 1.6))
    assert flat.verdict == flicker.verdict == "tight"
    assert flat.seen.not_larger == flat.seen.smallest
    assert flicker.seen.not_larger.high > flat.seen.not_larger.high
    assert flicker.words.startswith("no leak larger than ")


def test_two_rising_readings_cannot_tell_a_leak_from_moisture() -> None:
    answer = judge(a_vacuum(1.5, 9.0))
    assert answer.verdict == "cannot-tell"
    assert "two readings" in answer.sentence
    assert answer.seen.leak_g is None


@pytest.mark.parametrize("levels", [(1.5, 1.5, 1.5), (1.5, 9.0), (9.0, 1.5, 1.5)])
def test_a_hold_that_is_far_too_short_says_so_and_what_it_could_have_seen(levels: tuple[float, ...]) -> None:
    readings = tuple(VacuumReading(29.0 * i / (len(levels) - 1), 100 * level) for i, level in enumerate(levels))
    answer = judge(a_vacuum(readings=readings))
    assert "It stood 29 s, short of the 15 min that are usual (common practice, no source" in answer.sentence
    assert "shows only a leak of " in answer.sentence
    assert "may end before moisture shows" in answer.sentence
    assert "no moisture" not in answer.sentence


def test_a_hold_is_short_by_what_was_planned_for_it() -> None:
    assert "short of the 60 min that were planned" in judge(a_vacuum(planned_s=3600.0)).sentence
    assert "short of" not in judge(a_vacuum(planned_s=1800.0)).sentence
    ten_minutes = a_vacuum(1.5, 1.5, planned_s=600.0)
    assert "and no moisture" in judge(ten_minutes).sentence


def test_standing_at_waters_pressure_is_moisture_though_nothing_rises() -> None:
    assert judge(a_vacuum(23.4, 23.4, 23.4, 23.4)).verdict == "moisture"


def test_levelling_off_below_water_cannot_tell() -> None:
    answer = judge(a_vacuum(1.5, 7.0, 8.4, 8.8, 8.9, 8.9))
    assert answer.verdict == "cannot-tell"
    assert "below water's 23.4 mbar" in said(answer)


def test_a_falling_pressure_cannot_tell() -> None:
    answer = judge(a_vacuum(9.0, 7.0, 5.0, 3.0))
    assert answer.verdict == "cannot-tell"
    assert "falls" in answer.sentence


def test_a_needle_gauge_never_tells_whatever_it_shows() -> None:
    for readings in ((20.0, 20.0), (20.0, 60.0, 100.0, 140.0)):
        answer = judge(a_vacuum(*readings, gauge_kind=NEEDLE, pressure_step_pa=PA_PER_INHG / 2))
        assert answer.verdict == "cannot-tell"
        assert "needle gauge" in answer.sentence


def test_without_property_data_the_limit_is_a_throughput() -> None:
    answer = judge(a_vacuum(refrigerant="R-502"))
    assert answer.seen.smallest_g is None
    assert "Pa m3/s of air" in answer.words
    leak = judge(a_vacuum(1.5, 4.5, 7.5, 10.5, 13.5, refrigerant="R-502"))
    assert leak.seen.leak_g is None
    assert leak.sentence.endswith("Pa m3/s of air come in.")


def test_a_blend_is_an_estimate_from_its_components_and_says_so() -> None:
    for readings in ((1.5, 1.5, 1.5, 1.5), (1.5, 4.5, 7.5, 10.5, 13.5)):
        answer = judge(a_vacuum(*readings, refrigerant="R-407C"))
        assert "of R-407C" in answer.sentence
        assert "(viscosity estimated from the components, within a factor of about three)" in answer.sentence
        assert WILKE in answer.sources
    assert WILKE not in judge(a_vacuum()).sources


def test_grams_a_year_of_a_tight_hold_name_their_refrigerant() -> None:
    assert "a year of R-134a (" in judge(a_vacuum()).sentence


def test_where_the_atmosphere_came_from_is_said() -> None:
    low = judge(a_vacuum(atmosphere_pa=83_850.0, atmosphere_by="by the barometer"))
    assert low.workings[0] == ("Local atmosphere", "83\N{NARROW NO-BREAK SPACE}850 Pa, by the barometer")
    assert judge(a_vacuum()).workings[0] == ("Local atmosphere", "101\N{NARROW NO-BREAK SPACE}325 Pa")


def test_the_picture_has_the_readings_and_three_labelled_curves() -> None:
    picture = judge(a_vacuum(1.5, 2.5, 3.5, 4.5)).picture
    assert picture.points[0] == (0.0, 150.0)
    assert [label for label, _ in picture.curves] == ["steady", "to water", "to any level"]
    assert picture.curves[0][1][-1] == pytest.approx((1800.0, 450.0))


def test_a_vacuum_above_the_atmosphere_is_refused_as_a_unit() -> None:
    with pytest.raises(MeasurementError, match="is the unit right"):
        check_vacuum_pa(200_000, 101_325)


@pytest.mark.parametrize(
    ("changes", "says"),
    [
        ({"readings": (VacuumReading(0, 150.0),)}, "at least two"),
        ({"readings": (VacuumReading(60, 150.0), VacuumReading(0, 150.0))}, "later than"),
        ({"readings": (VacuumReading(0, -150.0), VacuumReading(60, 150.0))}, "no vacuum is deeper"),
        ({"readings": (VacuumReading(0, 101_325.0), VacuumReading(60, 101_325.0))}, "no vacuum to hold"),
        ({"volume_m3": 0.0}, "volume"),
        ({"pressure_step_pa": 0.0}, "step of the gauge"),
        ({"gauge_kind": "glass"}, "absolute or needle"),
    ],
)
def test_what_cannot_be_is_refused_with_a_sentence(changes: dict[str, object], says: str) -> None:
    with pytest.raises(MeasurementError, match=says):
        judge(a_vacuum(**changes))


# Nothing entered: temperature, volume, refrigerant


def curve(level_mbar: float, *, start: float = 1.5) -> Vacuum:
    values = [level_mbar - (level_mbar - start) * exp(-t / 6) for t in (0, 5, 10, 15, 20, 30)]
    return a_vacuum(*(round(p, 1) for p in values), temperature_k=None)


@pytest.mark.parametrize(
    ("vacuum", "verdict", "words"),
    [
        (a_vacuum(1.5, 4.5, 7.5, 10.5, temperature_k=None), "leak", "rises steadily"),
        (a_vacuum(1.5, 1.5, 1.5, temperature_k=None), "tight", "no rise beyond"),
        (a_vacuum(20.0, 20.0, 20.0, temperature_k=None), "cannot-tell", "where water would at 17.5 C"),
        (curve(20.0), "cannot-tell", "where water would at 17.5 C"),
        (curve(110.0), "outgassing", "above water's 6.11 mbar to 73.8 mbar at 0.0 C to 40.0 C"),
        (a_vacuum(1.5, 9, temperature_k=None), "cannot-tell", "two readings"),
    ],
)
def test_without_a_temperature_all_but_water_is_told_and_the_rise_is_said(
    vacuum: Vacuum, verdict: str, words: str
) -> None:
    answer = judge(vacuum)
    assert answer.verdict == verdict
    assert words in said(answer)
    first, last = vacuum.readings[0].pressure_pa, vacuum.readings[-1].pressure_pa
    assert answer.vacuum.rise_pa == pytest.approx(last - first)
    assert f"from {first / 100:.2f}"[:8] in said(answer)
    assert ("so water cannot be told apart by its pressure" in answer.sentence) is (verdict != "tight")
    assert answer.picture.water_pa is None


def test_moisture_is_never_called_so_without_a_temperature() -> None:
    random = Random(41)
    for _ in range(20):
        level_pa = water_vapour_pressure_pa(random.uniform(274, 312))
        rising = towards(random, 1800, level_pa)
        readings = tuple(VacuumReading(t, round(rising(t) / 10) * 10.0) for t in (0, 300, 600, 900, 1200, 1800))
        assert judge(a_vacuum(readings=readings, temperature_k=None)).verdict in ("cannot-tell", "outgassing")


@pytest.mark.parametrize("readings", [(1.5, 4.5, 7.5, 10.5), (1.5, 1.5, 1.5)])
def test_grams_a_year_are_a_range_over_an_interval_of_volume(readings: tuple[float, ...]) -> None:
    low, high = (judge(a_vacuum(*readings, volume_m3=volume_m3)) for volume_m3 in (0.0012, 0.004))
    car = judge(a_vacuum(*readings, inside=of_class("car")))
    assert car.verdict == low.verdict
    assert car.seen.rise.low == pytest.approx(low.seen.rise.usual)
    assert car.seen.rise.high == pytest.approx(high.seen.rise.usual)
    assert (car.seen.leak_g is None) == (low.seen.leak_g is None)
    assert car.seen.smallest_g.low == pytest.approx(low.seen.smallest_g.usual)
    assert car.seen.smallest_g.high == pytest.approx(high.seen.smallest_g.usual)
    assert car.seen.not_larger.high == pytest.approx(high.seen.not_larger.usual)
    assert " to " in car.words or car.verdict == "leak"
    assert "1.2 to 4 L, as cars have" in car.sentence


def test_without_a_refrigerant_it_is_air_that_comes_in() -> None:
    answer = judge(a_vacuum(1.5, 4.5, 7.5, 10.5, refrigerant=""))
    assert answer.seen.leak_g is None
    assert "Pa m3/s of air come in" in answer.sentence


def test_a_needle_gauge_is_as_good_as_the_air_is_known() -> None:
    readings = (VacuumReading(0, 16_000.0), VacuumReading(600, 17_000.0))
    around = {"atmosphere_low_pa": 75_000.0, "atmosphere_high_pa": 104_000.0}
    answer = judge(a_vacuum(readings=readings, gauge_kind=NEEDLE, pressure_step_pa=1_700.0, **around))
    assert "only known to within 263 mbar, and so are these levels; the rise is not touched by it" in said(answer)
    assert answer.vacuum.rise_pa == pytest.approx(1000)


def test_a_gauge_deeper_than_the_air_reckoned_with_may_be_right_under_a_heavier_air() -> None:
    check_vacuum_pa(-2_000.0, ATMOSPHERE_PA, 104_000.0)
    with pytest.raises(MeasurementError, match="no vacuum is deeper"):
        check_vacuum_pa(-2_000.0, ATMOSPHERE_PA)
    with pytest.raises(MeasurementError, match="no vacuum is deeper"):
        check_vacuum_pa(-3_000.0, ATMOSPHERE_PA, 104_000.0)
