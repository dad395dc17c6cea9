"""What a scale says by wire, read from the bytes that are kept with the weighing.

Two open standards: the Weight Scale Service of Bluetooth (Weight Measurement, 0x2A9D) and the weighing devices of the
USB-IF (HID usage page 0x8D). The script of the page reads a scale and sends these records; here each is read anew, so
that what is kept is what the reading says.

    bluetooth 00b80b                     the value of the characteristic
    usb 74 53 -3 13480 0403fda834        status and weight unit as usages of page 0x8D, exponent of ten, weight, report

Pure. Source of the layouts: Bluetooth SIG, Weight Scale Service 1.0 (2014), Weight Measurement; USB-IF, HID Usage
Tables, Weighing Devices page (0x8D), usages 0x40, 0x41, 0x50 to 0x5C and 0x70 to 0x78.
"""

import re
from decimal import Decimal
from fractions import Fraction

from inventory.measure.displays import Step, unit_mg
from inventory.measure.masses import Mass, read_mass
from inventory.measure.typed import QuantityError

USB_UNITS = {0x51: "mg", 0x52: "g", 0x53: "kg", 0x58: "t", 0x5B: "oz", 0x5C: "lb"}
STEADY = frozenset((0x72, 0x74))  # stable at the centre of zero; weight stable
LONGEST = 160

_NO_MEASUREMENT = 0xFFFF
_USB = re.compile(r"usb ([0-9a-f]{2}) ([0-9a-f]{2}) (-?[0-9]{1,3}) ([0-9]{1,10}) ((?:[0-9a-f]{2})+)")
_BLUETOOTH = re.compile(r"bluetooth ((?:[0-9a-f]{2})+)")


def text_of(record: str) -> str:
    """Return what the scale showed, as a person would type it: "13.480 kg".

    Raises QuantityError where the record is none, the load was moving, or the unit is none of a scale for cylinders.
    """
    if len(record) <= LONGEST and (found := _BLUETOOTH.fullmatch(record)):
        return _of_bluetooth(bytes.fromhex(found[1]))
    if len(record) <= LONGEST and (found := _USB.fullmatch(record)):
        status, unit = int(found[1], 16), int(found[2], 16)
        return _of_usb(status, unit, int(found[3]), int(found[4]))
    raise QuantityError("This is no record of a scale.")


def step_mg(record: str) -> Fraction:
    """Return the step in which a record counts, in milligrams: that may be finer or coarser than the display's own.

    Raises QuantityError as `text_of` does.
    """
    text_of(record)
    if found := _USB.fullmatch(record):
        return unit_mg(USB_UNITS[int(found[2], 16)]) * Fraction(10) ** int(found[3])
    pounds = int(record.removeprefix("bluetooth ")[:2], 16) & 1
    return Fraction(1, 100) * unit_mg("lb") if pounds else Fraction(5, 1000) * unit_mg("kg")


def read(record: str, mass: Mass, step: Step) -> int | None:
    """Return the milligrams that a record says of a scale with this step; None where it names no display of it.

    A record in steps coarser than the scale's own cannot say which display it was: it is taken as it came, and its step
    counts as that of the reading.
    """
    sent_mg = step_mg(record)
    if sent_mg > step.mg:
        return mass.mg
    count = step.count(mass.exact_mg)
    return step.mg_of(count) if abs(count * step.mg - mass.exact_mg) <= sent_mg / 2 else None


def says(record: str, mass: Mass) -> bool:
    """Whether the record is of a reading of just this mass: what was changed by hand is not the scale's any more."""
    try:
        return read_mass(text_of(record)).exact_mg == mass.exact_mg
    except QuantityError:
        return False


def _of_bluetooth(data: bytes) -> str:
    if len(data) < 3:
        raise QuantityError("The scale sent less than a measurement.")
    count, pounds = int.from_bytes(data[1:3], "little"), data[0] & 1
    if count == _NO_MEASUREMENT:
        raise QuantityError("The scale could not measure.")
    return f"{count * Decimal('0.01')} lb" if pounds else f"{count * Decimal('0.005')} kg"


def _of_usb(status: int, unit: int, scaling: int, weight: int) -> str:
    if status not in STEADY:
        raise QuantityError("The load was still moving, or the scale asks for something.")
    if unit not in USB_UNITS:
        raise QuantityError("The scale shows a unit that no cylinder is weighed in.")
    if not -6 <= scaling <= 6:
        raise QuantityError("The scale sent a decimal place that cannot be.")
    return f"{Decimal(weight).scaleb(scaling):f} {USB_UNITS[unit]}"
