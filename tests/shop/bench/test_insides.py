"""The inside volume as an interval: classes, figures entered or measured, what the label says."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from inventory.gases.fluids import liquid_density_kg_m3
from shop.bench import insides
from shop.bench.answers import MeasurementError

VEHICLE_CLASSES = ("car", "van", "bus", "truck", "off-road", "refrigerated body", "other")


@pytest.mark.parametrize(
    ("name", "low_m3", "high_m3"),
    [("car", 0.0012, 0.004), ("van", 0.0025, 0.007), ("machine", 0.0015, 0.008), ("bus", 0.010, 0.080)],
)
def test_a_class_is_a_range_that_says_it_has_no_source(name: str, low_m3: float, high_m3: float) -> None:
    # Common practice, no source: the project's own notes on the trade.
    inside = insides.of_class(name)
    assert (inside.low_m3, inside.high_m3) == (low_m3, high_m3)
    assert inside.basis == "class"
    assert "an estimate of the trade, no source" in inside.words
    assert not inside.is_known
    assert inside.is_estimate


def test_the_words_of_a_car() -> None:
    assert insides.of_class("car").words == "1.2 to 4 L, as cars have (an estimate of the trade, no source)"


def test_every_class_of_vehicle_has_a_class_of_volume() -> None:
    assert set(insides.CLASS_OF) == set(VEHICLE_CLASSES)
    assert set(insides.CLASS_OF.values()) <= set(insides.CLASSES)


def test_a_workshop_may_set_its_own_range_and_it_is_said() -> None:
    inside = insides.of_class("car", {"car": (0.0015, 0.003)})
    assert (inside.low_m3, inside.high_m3) == (0.0015, 0.003)
    assert inside.words == "1.5 to 3 L, as cars have (the range of this workshop’s settings, an estimate)"
    assert insides.of_class("van", {"car": (0.0015, 0.003)}) == insides.of_class("van")


def test_one_figure_is_known_and_a_measured_one_is_as_wide_as_its_uncertainty() -> None:
    one = insides.entered(0.002)
    assert one.is_one
    assert one.is_known
    assert one.words == "2 L, entered"
    measured = insides.entered(0.002, "measured with nitrogen from a known bottle", 0.0001)
    assert measured.low_m3 == pytest.approx(0.0019)
    assert measured.high_m3 == pytest.approx(0.0021)
    assert measured.words == "1.9 to 2.1 L, measured with nitrogen from a known bottle"
    assert measured.is_known
    assert measured.mid_m3 == pytest.approx(0.002)


def test_the_label_says_how_much_there_is_at_least() -> None:
    car = insides.of_class("car")
    small = insides.narrowed_by_label(car, refrigerant="R-134a", mass_kg=0.55)
    assert small == car  # 0.55 kg at 1,053 kg/m3 are 0.52 L, less than any car has
    big = insides.narrowed_by_label(car, refrigerant="R-134a", mass_kg=1.6)
    assert big.low_m3 == pytest.approx(1.6 / liquid_density_kg_m3("R-134a", 333.15))
    assert big.high_m3 == car.high_m3
    assert big.basis == "label"
    assert big.words.startswith("1.52 to 4 L, as 1.6 kg of R-134a by the label need at least 1.52 L")


def test_a_label_too_large_for_its_class_widens_it() -> None:
    inside = insides.narrowed_by_label(insides.of_class("car"), refrigerant="R-134a", mass_kg=7.0)
    assert inside.low_m3 == pytest.approx(0.00665, rel=0.01)
    assert inside.high_m3 == pytest.approx(2 * inside.low_m3)


def test_a_label_changes_neither_a_figure_nor_what_it_cannot_speak_of() -> None:
    assert insides.narrowed_by_label(insides.entered(0.002), refrigerant="R-134a", mass_kg=7.0).is_one
    bus = insides.of_class("bus")
    for refrigerant in ("R-744", "R-409A", ""):
        assert insides.narrowed_by_label(bus, refrigerant=refrigerant, mass_kg=20.0) == bus
    assert insides.narrowed_by_label(bus, refrigerant="R-134a", mass_kg=0.0) == bus


@given(st.sampled_from(insides.CLASSES), st.floats(0.05, 30), st.sampled_from(["R-12", "R-134a", "R-1234yf"]))
def test_whatever_the_label_the_interval_stays_one(name: str, mass_kg: float, refrigerant: str) -> None:
    inside = insides.narrowed_by_label(insides.of_class(name), refrigerant=refrigerant, mass_kg=mass_kg)
    assert 0 < inside.low_m3 < inside.high_m3
    assert inside.low_m3 >= insides.RANGES_M3[name][0]
    assert inside.high_m3 >= insides.RANGES_M3[name][1]


@pytest.mark.parametrize("volume_m3", [0.0, -0.002, float("nan"), float("inf"), 2.0])
def test_a_volume_that_cannot_be_is_refused_with_a_sentence(volume_m3: float) -> None:
    with pytest.raises(MeasurementError, match=r"\.$|\?$"):
        insides.entered(volume_m3)


def test_what_is_no_range_or_no_class_is_refused() -> None:
    with pytest.raises(MeasurementError, match="car, van, machine, bus"):
        insides.of_class("ship")
    with pytest.raises(MeasurementError, match="above the high end"):
        insides.of_class("car", {"car": (0.004, 0.002)})
