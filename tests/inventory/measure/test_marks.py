"""Which writings name one thing, and which may be a misreading of another."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from inventory.measure.marks import LONGEST, likeness, mark, same

PLATES = st.text("ABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789", min_size=1, max_size=12)


@pytest.mark.parametrize(
    ("one", "other"),
    [
        ("KX 4471", "kx4471"),
        ("C-34", "c34"),
        ("B.12/7", "b 127"),
        ("MÜ AB 12", "mü-ab12"),
        ("КХ 4471", "KX 4471"),  # Cyrillic letters
        ("ΑΒ 12", "AB 12"),  # Greek letters
        ("\uff2b\uff38 4471", "KX 4471"),  # wide letters
        ("KA 01 \u0967\u0968", "KA 01 12"),  # Devanagari digits
        ("Straßen Gas", "STRASSEN GAS"),
    ],
)
def test_case_spaces_signs_and_the_alphabet_do_not_count(one: str, other: str) -> None:
    assert same(one, other)


@pytest.mark.parametrize(
    ("one", "other"), [("KX 4471", "KX 447I"), ("0B 5", "OB S"), ("B8Z2", "88ZZ"), ("Köhler", "Kohler")]
)
def test_a_misreading_is_alike_and_not_the_same(one: str, other: str) -> None:
    assert likeness(one) == likeness(other)
    assert not same(one, other)


def test_others_are_neither() -> None:
    assert likeness("KX 4471") != likeness("KX 4472")
    assert not same("", "")
    assert not same("KX", "")


def test_a_name_without_a_letter_is_still_a_name() -> None:
    assert same("?", " ? ")
    assert not same("?", "-")


@given(PLATES, st.lists(st.sampled_from(" -./·"), max_size=4))
def test_a_plate_written_with_any_signs_is_the_same_one(plate: str, signs: list[str]) -> None:
    written = plate.lower()
    for place, sign in enumerate(signs):
        at = place % (len(written) + 1)
        written = written[:at] + sign + written[at:]
    assert same(plate, written)


@given(st.text(max_size=300))
def test_any_text_has_a_mark_that_is_its_own_mark_and_a_likeness_of_bounded_length(text: str) -> None:
    assert mark(mark(text)) == mark(text)
    assert len(likeness(text)) <= LONGEST


@given(PLATES, PLATES)
def test_the_same_mark_is_always_alike(one: str, other: str) -> None:
    assert not same(one, other) or likeness(one) == likeness(other)
