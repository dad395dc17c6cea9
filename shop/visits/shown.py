"""What was typed as it stands in a log, and which units a person's own pressures are typed in. Pure."""

import re

from inventory.measure.figures import MINUS
from inventory.measure.units import find_pressure

METRIC_MASSES = ("mg", "g", "kg", "t")
METRIC_VOLUMES = ("L", "mL", "cc", "m3")
MOST_OIL_M3 = 1e-3  # from here on a volume is that of a circuit
PRESSURES_OF = {"psi": ("psi", "inHg", "micron"), "kPa": ("kPa", "Pa", "MPa"), "bar": ("bar", "mbar", "hPa", "micron")}
_NUMBER = re.compile(rf"[-+{MINUS}]?[0-9][0-9.,'\s]*")


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
