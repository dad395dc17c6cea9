"""Which visits a second person looks at: one in twenty, by a digest that nobody knows beforehand. Pure: no database.

A hand-over keeps the digest that the book's history had once it said that the vehicle is handed over. A salt and the
time are in it, and a vehicle is handed over once, so nobody can choose it or try again. A hand-over without one is
never asked about: it was written before there were spot checks, or where the workshop leaves them out.
"""

import re
from datetime import timedelta

from shop.visits.steps import Data, text_of

SPOT_CHECK = "spot check"
ONE_IN = 20
WITHIN = timedelta(days=14)  # from the hand-over; what was looked at later is remembered by nobody (from experience)
DRAWN_BY = "drawn_by"  # under this name a hand-over keeps the digest
AGREES, DIFFERS = "agrees", "does not agree"


def is_chosen(handed_over: Data) -> bool:
    """Whether what a hand-over keeps chooses its visit."""
    return chooses(text_of(handed_over, DRAWN_BY))


def chooses(digest: str) -> bool:
    """Whether a SHA-256 in hexadecimal, read as a number, is divisible by `ONE_IN`; nothing else chooses."""
    return re.fullmatch(r"[0-9a-f]{64}", digest) is not None and int(digest, 16) % ONE_IN == 0
