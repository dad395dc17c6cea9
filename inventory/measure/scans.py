"""What a scanner, a camera or a hand gives for a cylinder: a label's address, a label's code, or a number. Pure.

A label bears an address such as ``HTTPS://BOOK.LAN/C/7K3M9Q``: of any host, since a book may have moved. A scanner that
types knows one layout of keys, and the machine may have another: then the signs of an address come out as others, and
only its letters and digits are relied on.
"""

import re
from dataclasses import dataclass

from inventory.measure.codes import ALPHABET, check_character

LONGEST = 200  # characters that are looked at
LABEL = 6
_READ_AS = str.maketrans({"O": "0", "I": "1", "L": "1"})
_SYMBOLOGY = re.compile(r"^\][A-Za-z][0-9A-Za-z](?=.)")  # which kind of code it was, as some scanners say before it
_ADDRESS = re.compile(r"^HTTPS?\W{1,3}\w", re.IGNORECASE)
_LABEL_ADDRESS = re.compile(r"^HTTPS?\W{1,3}\w.*(\W)C\1([0-9A-Z]+)\W?$", re.IGNORECASE)


@dataclass(frozen=True)
class Scan:
    """What was read: its text, and the code of the label that it is, empty where it is none."""

    text: str
    label: str = ""
    is_address: bool = False  # of a page, whether of a label or of anything else
    is_misread: bool = False  # the address of a label whose code has a slip in it


def read_scan(said: str) -> Scan:
    """Return what was scanned or typed, with single spaces; any text is something, at least a number."""
    text = _SYMBOLOGY.sub("", " ".join(said.replace("\0", "").split()))[:LONGEST]
    if not _ADDRESS.match(text):
        return Scan(text, label_of(text))
    found = _LABEL_ADDRESS.match(text)
    label = label_of(found[2]) if found else ""
    return Scan(text, label, is_address=True, is_misread=bool(found) and not label)


def label_of(text: str) -> str:
    """Return a label's code as it is printed, in any case, O as 0, I and L as 1; empty where it is none."""
    code = text.upper().translate(_READ_AS)
    whole = len(code) == LABEL and set(code) <= set(ALPHABET)
    return code if whole and check_character(code[:-1]) == code[-1] else ""
