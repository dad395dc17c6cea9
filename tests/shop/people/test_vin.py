"""The check digit of a vehicle identification number."""

import pytest

from shop.people import vin


def test_the_digit_of_seventeen_ones_is_one() -> None:
    # Source: the worked example in common use for 49 CFR 565.15, from memory.
    assert vin.check_digit("1" * 17) == "1"


def test_a_number_with_a_letter_that_is_never_used_has_no_digit() -> None:
    with pytest.raises(ValueError, match="without I, O and Q"):
        vin.check_digit("O" * 17)


def test_a_short_or_european_number_is_only_information() -> None:
    assert "shorter" in vin.said("12345")
    assert "says nothing" in vin.said("WAB" + "1" * 14)
    assert vin.said("1" * 17) == "The check digit agrees."
