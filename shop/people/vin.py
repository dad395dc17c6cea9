"""The check digit of a vehicle identification number: information only, since only North America asks for one.

Source of the letters' values, the weights and the place of the check digit: 49 CFR 565.15.
"""

import re

VALUES = dict(zip("ABCDEFGH", range(1, 9), strict=True))
VALUES |= dict(zip("JKLMNPRSTUVWXYZ", (1, 2, 3, 4, 5, 7, 9, 2, 3, 4, 5, 6, 7, 8, 9), strict=True))
VALUES |= {str(digit): digit for digit in range(10)}
WEIGHTS = (8, 7, 6, 5, 4, 3, 2, 10, 0, 9, 8, 7, 6, 5, 4, 3, 2)
NORTH_AMERICA = "12345"


def check_digit(vin: str) -> str:
    """Return the check digit (0 to 9 or X) that belongs at the ninth place of 17 characters; else ``ValueError``."""
    if not re.fullmatch(r"[A-HJ-NPR-Z0-9]{17}", vin):
        raise ValueError("A check digit needs 17 characters without I, O and Q.")
    rest = sum(VALUES[char] * weight for char, weight in zip(vin, WEIGHTS, strict=True)) % 11
    return "X" if rest == 10 else str(rest)


def said(vin: str) -> str:
    """Return in one sentence what the check digit shows; nothing follows from it for the vehicle."""
    if len(vin) != 17:
        return f"{len(vin)} characters: vehicles before 1981 have shorter numbers, without a check digit."
    try:
        agrees = check_digit(vin) == vin[8]
    except ValueError:
        return "It has a letter I, O or Q or another sign that such a number never has. Read it again."
    if agrees:
        return "The check digit agrees."
    if vin[0] in NORTH_AMERICA:
        return "The check digit does not agree, and numbers from North America have one. Read it again."
    return "The check digit does not agree. Outside North America most numbers have none, so this says nothing."
