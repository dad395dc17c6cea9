"""Whether a certificate was held on a day, and of which class it may be. Pure: no database."""

from datetime import date
from typing import Protocol

M1, M2, M3, M4, OF_2008 = "M1", "M2", "M3", "M4", "(EC) 307/2008"
SECTION_609, SECTION_608 = "section 609", "section 608"
CATEGORIES = {
    "us": {SECTION_609: "section 609: motor vehicle air conditioning", SECTION_608: "section 608: other plant"},
    "eu": {
        M1: "M1: all work on vehicles",
        M2: "M2: with an automated station",
        M3: "M3: carbon dioxide",
        M4: "M4: recovery alone",
        OF_2008: "of the old kind, (EC) 307/2008",
    },
}
"""The classes that the law of a jurisdiction tells apart, each with its words; elsewhere none is asked."""


class Dated(Protocol):
    """What of a certificate says from when to when it holds; None where that is not entered."""

    @property
    def issued_on(self) -> date | None: ...

    @property
    def expires_on(self) -> date | None: ...

    @property
    def never_expires(self) -> bool: ...


def held_on(one: Dated, day: date) -> bool:
    """Whether a certificate was held on `day` as far as the dates entered show."""
    begun = one.issued_on is None or one.issued_on <= day
    return begun and (one.never_expires or (one.expires_on is not None and one.expires_on >= day))
