"""What was typed as it stands in a log, and which units a person's own pressures are typed in. Pure."""

import re
from decimal import Decimal

from inventory.measure.figures import MINUS
from inventory.measure.units import find_pressure

METRIC_MASSES = ("mg", "g", "kg", "t")
METRIC_VOLUMES = ("L", "mL", "cc", "m3")
MOST_OIL_M3 = 1e-3  # from here on a volume is that of a circuit
PRESSURES_OF = {"psi": ("psi", "inHg", "micron"), "kPa": ("kPa", "Pa", "MPa"), "bar": ("bar", "mbar", "hPa", "micron")}
_OUNCES = re.compile(r"([0-9]+(?:[.,][0-9]+)?) ?(?:oz)?")
_NUMBER = re.compile(rf"[-+{MINUS}]?[0-9][0-9.,'\s]*")


def in_pounds_and_ounces(text: str, unit: str) -> str:
    """Return ounces as they were typed, a pound of them or more, as pounds and ounces: the same mass, to the digit."""
    found = _OUNCES.fullmatch(" ".join(text.split()))
    if unit != "oz" or found is None or Decimal(found[1].replace(",", ".")) < 16:
        return ""
    pounds, ounces = divmod(Decimal(found[1].replace(",", ".")), 16)
    shown = f"{ounces:f}" if "." in f"{ounces:f}" else f"{ounces:f}.0"
    return f"{pounds:f} lb {shown.replace('.', ',') if ',' in found[1] else shown} oz"


def typed_said(kind: str, text: str, unit: str) -> str:
    """Return what was typed with its unit; of a pressure also what it counts from."""
    text = " ".join(text.split())
    if not unit or not text:
        return ""
    if kind != "pressure":
        return text if re.search(r"[A-Za-z]", text) else f"{text} {unit}"
    found = _NUMBER.match(text)
    known = find_pressure(unit)
    if found is None or known is None:
        return text
    number, word, counts = found[0].strip(" ,"), known[0].word, known[1]
    if counts == "vacuum":
        return f"{number.lstrip('-' + MINUS)} {word} of vacuum"
    return f"{number} {word}{f' {counts}' if counts and word != 'micron' else ''}"
