"""Whether a certificate was held on a day. Pure: no database."""

from datetime import date
from typing import Protocol


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
