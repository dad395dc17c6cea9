"""What scales send by wire, against the layouts of two open standards.

Bluetooth SIG, Weight Scale Service 1.0 (2014), Weight Measurement 0x2A9D: flags, then the weight as a 16-bit number,
low byte first, in steps of 0.005 kg or 0.01 lb; 0xFFFF is "measurement unsuccessful" (from memory). USB-IF, HID Usage
Tables, Weighing Devices page 0x8D: usages of status 0x70 to 0x78, of units 0x50 to 0x5C, Data Scaling 0x41.
"""

from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from inventory.measure import wire
from inventory.measure.displays import Step, step_of
from inventory.measure.masses import read_mass
from inventory.measure.typed import QuantityError


@pytest.mark.parametrize(
    ("record", "text"),
    [
        ("bluetooth 00880a", "13.480 kg"),  # 2696 steps of 0.005 kg
        ("bluetooth 01880a", "26.96 lb"),  # 2696 steps of 0.01 lb
        ("bluetooth 0e880ae9070b1c080000", "13.480 kg"),  # flags of a time stamp and more behind the weight
        ("usb 74 5b -1 6452 040bff3419", "645.2 oz"),  # weight stable, ounces: 40 lb and 5.2 oz
        ("usb 74 52 0 13480 040200a834", "13480 g"),
        ("usb 72 53 -3 0 0203fd0000", "0.000 kg"),  # at rest at the centre of zero
        ("usb 74 5c 1 3 040c010300", "30 lb"),
    ],
)
def test_a_record_says_what_the_scale_showed(record: str, text: str) -> None:
    assert wire.text_of(record) == text
    assert wire.says(record, read_mass(text))


@pytest.mark.parametrize("status", ["71", "73", "75", "76", "77", "78", "70", "00"])
def test_only_a_load_at_rest_counts(status: str) -> None:
    """Fault, in motion, under zero, over the limit, to be calibrated, to be zeroed."""
    with pytest.raises(QuantityError):
        wire.text_of(f"usb {status} 52 0 500 040200f401")


@pytest.mark.parametrize(
    "record",
    [
        "",
        "bluetooth",
        "usb 74 53 -3 \u0661\u0663\u0664\u0668\u0660 0403fda834",  # digits, but none that a script sends
        "bluetooth 0088",
        "bluetooth 00ffff",  # measurement unsuccessful
        "usb 74 54 0 5 0404000500",  # carats
        "usb 74 52 90 5 04025a0500",
        "13.480 kg",
        f"bluetooth {'00' * 100}",
    ],
)
def test_what_is_no_measurement_of_a_cylinder_says_nothing(record: str) -> None:
    with pytest.raises(QuantityError):
        wire.text_of(record)
    assert not wire.says(record, read_mass("13.480 kg"))


@given(st.integers(0, 65_534), st.sampled_from(("00", "01")))
def test_every_count_of_bluetooth_comes_back_exactly(count: int, flags: str) -> None:
    mass = read_mass(wire.text_of(f"bluetooth {flags}{count.to_bytes(2, 'little').hex()}"))
    step = read_mass("0.005 kg" if flags == "00" else "0.01 lb")
    assert mass.exact_mg == count * step.exact_mg


@given(
    st.integers(0, 65_535), st.integers(-6, 2), st.sampled_from((("52", "g"), ("53", "kg"), ("5b", "oz"), ("5c", "lb")))
)
def test_what_was_changed_by_hand_is_not_the_scales(weight: int, scaling: int, unit: tuple[str, str]) -> None:
    record = f"usb 74 {unit[0]} {scaling} {weight} 00"
    text = wire.text_of(record)
    assert text.endswith(f" {unit[1]}")
    try:
        mass = read_mass(text)
    except QuantityError:  # finer than a milligram
        return
    assert wire.says(record, mass)
    assert not wire.says(f"usb 74 {unit[0]} {scaling} {weight + 1} 00", mass)


@pytest.mark.parametrize(
    ("record", "step", "mg"),
    [
        ("bluetooth 00890a", "2 g", 13_485_000),  # no display in steps of 2 g: the record is the coarser, and holds
        ("bluetooth 00880a", "2 g", 13_480_000),
        ("bluetooth 00890a", "5 g", 13_485_000),
        ("bluetooth 00890a", "10 g", None),  # another scale sent it, or the step is entered wrong
        ("bluetooth 01890a", "0.02 lb", None),  # 26.97 lb on a display of even hundredths
        ("bluetooth 01880a", "0.02 lb", 12_228_850),  # 26.96 lb
        ("bluetooth 01890a", "0.001 lb", 12_233_386),  # 26.97 lb, coarser than the display
        ("usb 74 53 -3 13483 0403fdab34", "5 g", None),
        ("usb 74 53 -3 13480 0403fda834", "5 g", 13_480_000),
        ("usb 74 53 -2 1348 0403fe4405", "5 g", 13_480_000),  # counted in 10 g
    ],
)
def test_a_record_is_asked_about_only_where_its_scale_would_show_something_else(
    record: str, step: str, mg: int | None
) -> None:
    assert wire.read(record, read_mass(wire.text_of(record)), step_of(read_mass(step))) == mg


def test_a_scale_in_pounds_that_sends_kilograms_is_read_as_the_display_it_must_have_shown() -> None:
    step = Step(Decimal("0.5"), "oz")
    for count in range(200, 900):
        sent = round(step.mg_of(count) / 5_000)
        record = f"bluetooth 00{sent.to_bytes(2, 'little').hex()}"
        assert wire.read(record, read_mass(wire.text_of(record)), step) == step.mg_of(count)


@pytest.mark.parametrize(
    ("record", "mg"),
    [
        ("bluetooth 00880a", 5_000),
        ("bluetooth 01880a", 4_535.9237),
        ("usb 74 53 -3 1 00", 1_000),
        ("usb 74 52 0 1 00", 1_000),
    ],
)
def test_the_step_of_a_record(record: str, mg: float) -> None:
    assert float(wire.step_mg(record)) == pytest.approx(mg, rel=1e-12)
