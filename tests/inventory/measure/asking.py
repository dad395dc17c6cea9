"""What tests of typed quantities ask a reader: a pressure at sea level, the choices it asks about, why it refuses."""

from collections.abc import Callable

import pytest

from inventory.measure.pressures import read_pressure
from inventory.measure.typed import Doubtful, QuantityError, Typed

SEA_LEVEL_PA = 101_325.0
HIGH_PA = 84_556.0  # 1,500 m by ISO 2533
SPACE = "\u202f"

Reader = Callable[[str], Typed | float | tuple[float, str]]


def pressure(text: str, **more: object) -> Typed:
    return read_pressure(text, **({"atmosphere_pa": SEA_LEVEL_PA} | more))  # type: ignore[arg-type]


def choices_of(reader: Reader, text: str) -> tuple[str, ...]:
    with pytest.raises(Doubtful) as caught:
        reader(text)
    return caught.value.choices


def sentence_of(reader: Reader, text: str) -> str:
    with pytest.raises(QuantityError) as caught:
        reader(text)
    assert not isinstance(caught.value, Doubtful)
    assert caught.value.sentence == str(caught.value)
    return caught.value.sentence
