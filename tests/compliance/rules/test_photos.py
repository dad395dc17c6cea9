"""Photos of steps: one picture at two vehicles, and one that was taken long before."""

from dataclasses import replace
from datetime import timedelta
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from compliance.rules.all import BY_ID
from compliance.rules.facts import Shot
from compliance.rules.rule import MET, OPEN, judge
from tests.compliance.rules.builders import DAY, TECHNICIAN, at, said, workshop

LOOK = 0x5A3C_96F0_0FA5_C3E1
FIRST = Shot(40, 12, 101, "label read", at(DAY), TECHNICIAN, "label", "a" * 64, f"{LOOK:016x}", at(DAY))
SECOND = replace(FIRST, line=50, visit=13, vehicle=102, digest="b" * 64)


def states(rule: str, *shots: Shot) -> list[str]:
    return said(BY_ID[f"book-photo-{rule}"], workshop("none", shots=shots))


@given(st.sets(st.integers(0, 63), max_size=8))
def test_two_looks_are_one_picture_up_to_three_bits(bits: set[int]) -> None:
    other = replace(SECOND, look=f"{LOOK ^ sum(1 << bit for bit in bits):016x}")
    assert states("twice", FIRST, other) == [MET, OPEN if len(bits) <= 3 else MET]


@pytest.mark.parametrize(
    ("second", "state"),
    [
        ({}, OPEN),
        ({"vehicle": 101}, MET),
        ({"look": ""}, MET),
        ({"shows": "gauge"}, MET),  # one gauge from one place looks the same whatever it says
        ({"shows": "gauge", "digest": "a" * 64}, OPEN),
        ({"look": "", "digest": "a" * 64}, OPEN),
        ({"look": f"{LOOK ^ 0xFFFF:016x}"}, MET),
    ],
)
def test_the_same_picture_is_asked_about_at_another_vehicle_alone(second: dict[str, Any], state: str) -> None:
    assert states("twice", FIRST, replace(SECOND, **second)) == [MET, state]


def test_pictures_in_which_nothing_is_seen_are_not_alike() -> None:
    assert states("twice", replace(FIRST, look=""), replace(SECOND, look="")) == [MET, MET]


def test_words_name_both_lines_and_what_else_it_can_be() -> None:
    *_, found = judge(BY_ID["book-photo-twice"], workshop("none", shots=(FIRST, SECOND)))
    assert found.words.startswith("Unusual: the photo of line 50 looks the same as that of line 40, at visit 12")
    assert "can also be" in found.words
    assert (found.about, found.person) == ("line:50", TECHNICIAN)


@pytest.mark.parametrize(
    ("early", "expected"),
    [
        (timedelta(hours=24), [MET]),
        (timedelta(hours=25), [OPEN]),
        (timedelta(days=400), [OPEN]),
        (timedelta(hours=-9), [MET]),
        (None, []),
    ],
)
def test_a_photo_is_taken_by_the_time_of_its_step(early: timedelta | None, expected: list[str]) -> None:
    taken = None if early is None else FIRST.step_at - early
    assert states("long-before", replace(FIRST, taken_at=taken)) == expected
