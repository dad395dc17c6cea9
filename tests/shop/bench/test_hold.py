"""Laws that a pressure hold keeps, and simulated holds of known leak."""

import re
from dataclasses import replace
from random import Random

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from inventory.measure.uncertainty import detection_limit
from shop.bench.answers import PA_PER_PSI, MeasurementError
from shop.bench.hold import judge, questions
from shop.bench.holdfacts import GASES, NITROGEN_HYDROGEN, Hold, HoldReading, compensated_pa
from shop.bench.insides import of_class
from shop.bench.leakrate import WILKE

ATMOSPHERE_PA = 101_325.0
kelvins = st.floats(263, 323)


def a_hold(*readings: tuple[float, float, float], **changes: object) -> Hold:
    """Minutes, bar gauge, Celsius; a two-litre system and a fine gauge unless told otherwise."""
    read = tuple(HoldReading(60 * t, 1e5 * p + ATMOSPHERE_PA, c + 273.15) for t, p, c in readings)
    hold = Hold(
        readings=read or (HoldReading(0, 18e5, 295.0), HoldReading(1200, 18e5, 295.0)),
        volume_m3=0.002,
        refrigerant="R-134a",
        pressure_step_pa=1000,
        temperature_step_k=0.1,
    )
    return replace(hold, **changes)  # type: ignore[arg-type]


def simulated(random: Random, readings: int, leak_pa_m3_s: float = 0.0) -> Hold:
    """A system of random size, gauge, time and change of temperature, read as its displays round it."""
    volume_m3, start_k = random.uniform(0.0015, 0.004), random.uniform(283, 303)
    start_pa, warming_k = random.uniform(12e5, 18e5), random.uniform(-3, 3)
    duration_s = random.uniform(900, 7200)
    gauge, thermometer = random.choice([PA_PER_PSI, 10_000.0, 5000.0, 1000.0]), random.choice([0.1, 0.5, 1.0])
    read = []
    for number in range(readings):
        share = number / (readings - 1)
        kelvin = start_k + warming_k * share
        pressure_pa = (start_pa - leak_pa_m3_s * duration_s * share / volume_m3) * kelvin / start_k - ATMOSPHERE_PA
        shown_pa = round(pressure_pa / gauge) * gauge + ATMOSPHERE_PA
        shown_k = round((kelvin - 273.15) / thermometer) * thermometer + 273.15
        read.append(HoldReading(duration_s * share, shown_pa, shown_k))
    return a_hold(readings=tuple(read), volume_m3=volume_m3, pressure_step_pa=gauge, temperature_step_k=thermometer)


def test_a_tight_system_is_called_leaking_in_at_most_five_of_a_hundred() -> None:
    random = Random(20250303)
    verdicts = [judge(simulated(random, random.randint(2, 9))).verdict for _ in range(400)]
    assert verdicts.count("falling") <= 0.05 * len(verdicts)


def test_a_known_leak_lies_within_its_stated_uncertainty_in_ninety_five_of_a_hundred() -> None:
    random = Random(20250414)
    inside = 0
    for _ in range(400):
        leak, count = random.uniform(0.0, 0.1), random.randint(2, 9)
        answer = judge(simulated(random, count, leak))
        inside += abs(answer.numbers.leak.usual - leak) <= 2 * answer.numbers.u_leak.usual
    assert inside >= 0.95 * 400


def test_the_smallest_visible_leak_is_seen_nineteen_times_in_twenty() -> None:
    seen = 0
    for seed in range(400):
        count = 2 + seed % 8
        smallest = judge(simulated(Random(seed), count)).numbers.smallest.usual
        seen += judge(simulated(Random(seed), count, smallest)).verdict == "falling"
    assert seen >= 0.95 * 400


@given(st.floats(5e5, 25e5), st.lists(kelvins, min_size=2, max_size=8))
def test_a_tight_ideal_system_compensates_exactly_whatever_its_temperature(start_pa: float, at_k: list[float]) -> None:
    readings = tuple(HoldReading(60.0 * i, start_pa * k / at_k[0], k) for i, k in enumerate(at_k))
    assert compensated_pa(readings) == pytest.approx([start_pa] * len(at_k))


@settings(max_examples=25, deadline=None)
@given(st.floats(5e5, 25e5), kelvins, kelvins)
def test_real_and_ideal_compensation_agree_where_the_temperature_stands(
    start_pa: float, one_k: float, end_k: float
) -> None:
    still = (HoldReading(0, start_pa, one_k), HoldReading(60, start_pa, one_k))
    assert compensated_pa(still, "real") == pytest.approx(compensated_pa(still))
    there = compensated_pa((HoldReading(0, start_pa, end_k), HoldReading(60, start_pa, one_k)), "real")[1]
    back = compensated_pa((HoldReading(0, there, one_k), HoldReading(60, there, end_k)), "real")[1]
    assert back == pytest.approx(start_pa)


@settings(max_examples=25, deadline=None)
@given(st.floats(0.5, 10), st.floats(1.1, 20))
def test_standing_longer_never_sees_less(hours: float, times: float) -> None:
    short, long = (judge(a_hold((0, 15, 20), (60 * h, 15, 20))) for h in (hours, hours * times))
    assert long.numbers.smallest.usual == pytest.approx(short.numbers.smallest.usual / times)


def test_the_time_to_see_the_limit_is_long_enough_and_no_longer() -> None:
    needed_s = judge(a_hold()).numbers.time_to_see_s
    assert needed_s is not None
    stood = a_hold(readings=(HoldReading(0, 18e5, 295.0), HoldReading(needed_s, 18e5, 295.0)))
    assert judge(stood).numbers.smallest_g.usual == pytest.approx(40)


def test_one_more_reading_in_between_changes_nothing_that_it_cannot_know() -> None:
    two = judge(a_hold((0, 15, 20), (20, 15, 20)))
    three = judge(a_hold((0, 15, 20), (10, 15, 20), (20, 15, 20)))
    assert three.numbers.u_change_pa == pytest.approx(two.numbers.u_change_pa)


def test_reading_a_coarse_display_often_does_not_make_it_finer() -> None:
    two = judge(a_hold((0, 15, 20), (20, 15, 20)))
    many = judge(a_hold(*((minute, 15, 20) for minute in range(21))))
    assert many.numbers.u_change_pa == pytest.approx(two.numbers.u_change_pa)


def test_readings_that_scatter_widen_the_uncertainty_and_say_so() -> None:
    quiet = judge(a_hold((0, 15, 20), (10, 15, 20), (20, 15, 20), (30, 15, 20)))
    restless = judge(a_hold((0, 15, 20), (10, 15.4, 20), (20, 14.6, 20), (30, 15, 20)))
    assert restless.numbers.u_change_pa > 2 * quiet.numbers.u_change_pa
    assert any("scatter" in caution for caution in restless.cautions)


def test_a_fall_is_called_falling_and_gives_grams_with_give_or_take() -> None:
    answer = judge(a_hold((0, 17, 20), (20, 16.5, 20)))
    assert answer.verdict == "falling"
    assert answer.numbers.leak_g is not None
    assert answer.numbers.leak_g.usual > 0
    assert answer.sentence.startswith("Falling: -0.5")
    assert "give or take" in answer.sentence


def test_a_rise_that_no_leak_makes_cannot_tell() -> None:
    answer = judge(a_hold((0, 17, 20), (20, 17.5, 20)))
    assert answer.verdict == "cannot-tell"
    assert "read it again" in answer.sentence


def test_never_called_tight() -> None:
    answer = judge(a_hold())
    assert answer.words.startswith("no leak larger than ")
    assert "tight" not in answer.sentence


def test_grams_a_year_name_their_refrigerant() -> None:
    assert "a year of R-1234yf: the pressure held" in judge(a_hold(refrigerant="R-1234yf")).sentence
    assert "as R-1234yf about" in judge(a_hold((0, 17, 20), (20, 16, 20), refrigerant="R-1234yf")).sentence


@pytest.mark.parametrize("fell_to", [17, 16.5])
def test_a_blend_is_an_estimate_from_its_components_and_says_so(fell_to: float) -> None:
    answer = judge(a_hold((0, 17, 20), (20, fell_to, 20), refrigerant="R-404A"))
    assert answer.numbers.smallest_g is not None
    assert "(viscosity estimated from the components, within a factor of about three)" in answer.sentence
    assert WILKE in answer.sources
    assert WILKE not in judge(a_hold()).sources


def test_a_blend_with_a_component_without_viscosity_is_given_as_a_throughput_and_says_why() -> None:
    answer = judge(a_hold(refrigerant="R-502"))
    assert answer.numbers.leak_g is None
    assert answer.numbers.time_to_see_s is None
    assert answer.numbers.hole.why_not == "no viscosity for R-502: no viscosity data for R-115"
    assert "Pa m3/s of nitrogen" in answer.sentence
    assert answer.picture.limit is None


def test_nitrogen_with_hydrogen_moves_nothing_that_could_be_read_and_says_that_it_is_an_estimate() -> None:
    readings = a_hold((0, 17, 20), (20, 16.5, 22)).readings
    dry, mixed = (judge(a_hold(readings=readings, gas=gas)) for gas in GASES)
    assert mixed.numbers.change_pa == dry.numbers.change_pa
    assert mixed.numbers.leak.usual == dry.numbers.leak.usual
    assert dry.numbers.leak_g is not None
    assert mixed.numbers.leak_g.usual == pytest.approx(dry.numbers.leak_g.usual, rel=0.01)
    assert mixed.numbers.leak_g.usual != dry.numbers.leak_g.usual
    assert WILKE in mixed.sources
    assert ("Gas", "nitrogen with 5 % of hydrogen; its viscosity is an estimate") in mixed.workings
    assert "nitrogen with hydrogen" in judge(a_hold(refrigerant="R-502", gas=NITROGEN_HYDROGEN)).words


def test_where_the_atmosphere_came_from_is_said_and_moves_the_grams() -> None:
    low = judge(a_hold(atmosphere_pa=84_500.0, atmosphere_by="by the barometer"))
    assert low.workings[0] == ("Atmosphere", "84\N{NARROW NO-BREAK SPACE}500 Pa, by the barometer")
    assert "barometer" not in str(judge(a_hold()).workings)


def test_a_hold_that_did_not_move_has_a_leak_of_nothing_without_a_sign() -> None:
    assert str(judge(a_hold()).numbers.leak.usual) == "0.0"


def test_where_the_ideal_law_is_too_coarse_for_fine_readings_it_is_said_and_the_real_gas_is_right() -> None:
    # Tight real nitrogen that cools by 4 K, read to 10 Pa and 0.01 K: the ideal law alone makes a fall of it.
    start_pa, at_k = 18e5, (297.15, 295.15, 293.15)
    there = (HoldReading(0, start_pa, at_k[0]), HoldReading(1, start_pa, at_k[0]))
    assert compensated_pa(there, "real")[1] == pytest.approx(start_pa)
    pressures = [compensated_pa((HoldReading(0, 1e5, k), HoldReading(1, start_pa, at_k[0])), "real")[1] for k in at_k]
    readings = tuple(HoldReading(600.0 * i, p, k) for i, (p, k) in enumerate(zip(pressures, at_k, strict=True)))
    fine = a_hold(readings=readings, pressure_step_pa=10.0, temperature_step_k=0.01)
    ideal, real = judge(fine), judge(replace(fine, compensation="real"))
    assert ideal.verdict == "falling"
    assert any("Compensate as a real gas" in caution for caution in ideal.cautions)
    assert real.verdict == "no-leak-larger"
    assert not any("real gas" in caution for caution in real.cautions)
    coarse = replace(fine, pressure_step_pa=PA_PER_PSI, temperature_step_k=1.0)
    assert not any("real gas" in caution for caution in judge(coarse).cautions)


# Nothing entered: volume, refrigerant, temperature


def test_an_interval_of_volume_makes_a_range_of_grams_and_leaves_the_fall_as_it_is() -> None:
    readings = a_hold((0, 17, 20), (20, 16.5, 20)).readings
    low, high = (judge(a_hold(readings=readings, volume_m3=volume_m3)) for volume_m3 in (0.0012, 0.004))
    car = judge(a_hold(readings=readings, inside=of_class("car")))
    assert (car.numbers.change_pa, car.numbers.u_change_pa) == (low.numbers.change_pa, high.numbers.u_change_pa)
    assert car.verdict == low.verdict == high.verdict == "falling"
    assert car.numbers.smallest_g.low == pytest.approx(low.numbers.smallest_g.usual)
    assert car.numbers.smallest_g.high == pytest.approx(high.numbers.smallest_g.usual)
    assert car.numbers.leak_g.low == pytest.approx(low.numbers.leak_g.usual)
    assert car.numbers.leak_g.high == pytest.approx(high.numbers.leak_g.usual)
    assert car.numbers.time_to_see_s == pytest.approx(high.numbers.time_to_see_s)
    least_g, most_g = (car.numbers.hole.g_per_year(leak) for leak in (car.numbers.least, car.numbers.most))
    assert low.numbers.leak_g is not None
    assert high.numbers.leak_g is not None
    assert least_g < low.numbers.leak_g.usual < high.numbers.leak_g.usual < most_g
    assert "by the inside volume and give or take" in car.sentence
    assert "Inside volume taken: 1.2 to 4 L, as cars have (an estimate of the trade, no source)." in car.sentence


def test_a_limit_over_an_interval_is_a_range_in_words_too() -> None:
    answer = judge(a_hold(inside=of_class("car")))
    assert re.fullmatch(r"no leak larger than [0-9.]+ (k?g )?to [0-9.]+ k?g a year", answer.words)
    assert "taken" not in judge(a_hold()).sentence


def test_with_neither_volume_nor_class_a_car_is_assumed_and_said() -> None:
    answer = judge(a_hold(volume_m3=None))
    assert (answer.hold.space.low_m3, answer.hold.space.high_m3) == (0.0012, 0.004)
    assert "as cars have, which is assumed here" in answer.sentence


def test_without_a_refrigerant_the_leak_is_a_throughput() -> None:
    answer = judge(a_hold((0, 17, 20), (20, 16.5, 20), refrigerant="", inside=of_class("car")))
    assert answer.numbers.leak_g is None
    assert answer.numbers.most > answer.numbers.least > 0
    assert "Pa m3/s of nitrogen" in answer.sentence
    assert "refrigerant is not known" in answer.numbers.hole.why_not


def without_temperature(*readings: tuple[float, float], **changes: object) -> Hold:
    read = tuple(HoldReading(60 * t, 1e5 * p + ATMOSPHERE_PA) for t, p in readings)
    return a_hold(readings=read, **changes)


def test_without_a_temperature_the_fall_is_said_as_read_with_what_that_means() -> None:
    small = judge(without_temperature((0, 17.24), (20, 17.17)))
    assert small.verdict == "no-leak-larger"
    assert small.numbers.change_pa == pytest.approx(-7000)
    assert not small.hold.is_corrected
    assert "The temperature was not taken: 1 K moves this pressure by 0.062 bar" in small.sentence
    large = judge(without_temperature((0, 17.24), (20, 16.0)))
    assert large.verdict == "falling"
    assert "as read, not compensated" in large.sentence
    assert judge(a_hold()).numbers.u_change_pa < small.numbers.u_change_pa / 5


def test_readings_with_and_without_a_temperature_are_judged_by_those_that_have_one() -> None:
    readings = (HoldReading(0, 18e5), HoldReading(600, 18e5, 295.0), HoldReading(1800, 18e5, 295.0))
    answer = judge(a_hold(readings=readings))
    assert answer.hold.is_corrected
    assert "gauge 30 min later" in answer.sentence
    assert [point[0] for point in answer.picture.points] == [0, 1200]
    assert not judge(a_hold(readings=readings[:2])).hold.is_corrected


@pytest.mark.parametrize("fell_to", [17.5, 17, 16])
def test_what_was_read_is_said_whatever_the_verdict(fell_to: float) -> None:
    answer = judge(a_hold((0, 17, 20), (20, fell_to, 20)))
    assert f"It stood at 17.00 bar gauge at first and at {fell_to:.2f} bar gauge 20 min later." in answer.sentence


def test_an_air_known_within_a_range_is_said_with_what_it_moves() -> None:
    around = {"atmosphere_low_pa": 75_000.0, "atmosphere_high_pa": 104_000.0}
    answer = judge(a_hold((0, 17, 20), (20, 17.2, 23), **around))
    rows = dict(answer.workings)
    assert (
        rows["The atmosphere not being known moves the change"] == "by 267 Pa at most"
    )  # 26,325 x (1 - 293.15/296.15)


def test_more_pressure_than_the_plate_allows_is_said_first() -> None:
    over = judge(a_hold(allowed_pa=15e5))
    assert over.hold.above_allowed is True
    assert "more than the 15.00 bar" in over.cautions[0]
    assert judge(a_hold(allowed_pa=20e5)).hold.above_allowed is False
    assert judge(a_hold()).hold.above_allowed is None


def test_250_bar_is_a_question() -> None:
    asked = questions(a_hold((0, 250, 20), (20, 250, 20)))
    assert asked == ("250 bar is more than any such system is tested at. Did you mean 250 psi (17.2 bar)?",)
    assert questions(a_hold((0, 17.2, 20), (20, 17.2, 20))) == ()
    assert questions(a_hold((0, 120, 20), (20, 120, 20), refrigerant="R-744")) == ()


def test_17_psi_and_200_degrees_are_questions() -> None:
    assert "Did you mean 12.5 bar" in questions(a_hold((0, 12.5 * PA_PER_PSI / 1e5, 20), (20, 0.8, 20)))[0]
    assert "Is the unit right?" in questions(a_hold((0, 17, 200), (20, 17, 200)))[0]


def test_the_picture_carries_readings_trend_blind_wedge_and_limit() -> None:
    answer = judge(a_hold((0, 17, 20), (10, 16.8, 20), (20, 16.5, 20)))
    picture = answer.picture
    assert [point[0] for point in picture.points] == [0, 600, 1200]
    assert picture.trend[1][1] - picture.trend[0][1] == pytest.approx(answer.numbers.change_pa)
    assert picture.blind[0][1] - picture.blind[1][1] == pytest.approx(detection_limit(answer.numbers.u_change_pa))
    assert picture.limit is not None
    assert picture.limit[0][1] > picture.limit[1][1] > picture.blind[1][1]


@pytest.mark.parametrize(
    ("changes", "says"),
    [
        ({"readings": (HoldReading(0, 18e5, 295.0),)}, "at least two"),
        ({"readings": (HoldReading(60, 18e5, 295.0), HoldReading(60, 18e5, 295.0))}, "later than"),
        ({"readings": (HoldReading(0, -1.0, 295.0), HoldReading(60, 18e5, 295.0))}, "absolute pressure"),
        ({"readings": (HoldReading(0, 18e5, float("nan")), HoldReading(60, 18e5, 295.0))}, "not a number"),
        ({"readings": (HoldReading(0, 9e4, 295.0), HoldReading(60, 9e4, 295.0))}, "not above the atmosphere"),
        ({"volume_m3": 0.0}, "volume"),
        ({"pressure_step_pa": 0.0}, "step of the gauge"),
        ({"temperature_step_k": -1.0}, "step of the thermometer"),
        ({"compensation": "none"}, "one of"),
        ({"gas": "oxygen"}, "dry nitrogen, nitrogen with hydrogen"),
    ],
)
def test_what_cannot_be_is_refused_with_a_sentence(changes: dict[str, object], says: str) -> None:
    with pytest.raises(MeasurementError, match=says):
        judge(a_hold(**changes))
