"""Readings, and what the shop writes by a pair of them, for the tests of the acts."""

from collections.abc import Callable
from datetime import datetime
from typing import Any

import pytest

from inventory.acts import settling
from inventory.book import ledger, weighing
from inventory.book.draft import Draft, Line
from inventory.book.weighing import Gross
from inventory.models import Cylinder, Entry, Weighing


@pytest.fixture
def gross(scale: Any) -> Callable[..., Gross]:
    """gross(cylinder, grams, scale=...) is a reading, on S1 where no scale is named."""

    def read(cylinder: Cylinder, of_g: int, on: Any = scale) -> Gross:
        return Gross(cylinder, on, of_g * 1_000, f"{of_g} g")

    return read


@pytest.fixture
def pair(book: Any, act: Any, gross: Any, scale: Any) -> Callable[..., Entry]:
    """Write a recovery (more after) or a charge (less after) between a cylinder and a vehicle, as the shop does."""

    def write(
        cylinder: Cylinder, vehicle: Any, before_g: int, after_g: int, at: datetime | None = None, on: Any = scale
    ) -> Entry:
        def build(draft: Draft) -> None:
            weighing.settle(draft, gross(cylinder, before_g, on), Weighing.BEFORE)
            gained_mg, u = weighing.passed(draft, gross(cylinder, after_g, on))
            grade = draft.content(cylinder.account)[1] if draft.content(cylinder.account) else cylinder.grade
            if gained_mg > 0:
                settling.found_in_vehicle(draft, vehicle, "R-134a", grade, gained_mg, "pair", u)
            ends = (cylinder.account, vehicle) if gained_mg < 0 else (vehicle, cylinder.account)
            cause = "charge" if gained_mg < 0 else "recovery"
            draft.move(Line(cause, *ends, "R-134a", grade, abs(gained_mg), "pair", *weighing.parts_mg(u), scale=on))

        return ledger.write(book, act(at=at), build)

    return write


@pytest.fixture
def s2(make_scale: Callable[..., Any]) -> Any:
    return make_scale("S2", 2_000)
