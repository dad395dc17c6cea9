"""Which questions may be left out of what is still asked."""

import pytest

from shop.visits.asked import Asked, Done, VehicleFacts, asked
from shop.visits.questions import MAY_BE_MISSED, QUESTIONS, left_out


def test_all_that_may_be_left_out_leaves_only_what_is_kept() -> None:
    """Also of the steps that are missing: each has its question."""
    everything = {one.key for one in QUESTIONS}
    steps = [Done(1, "received", {}), Done(2, "circuit opened", {}), Done(3, "declined", {"signed": {"text": "no"}})]
    facts = VehicleFacts("R-134a", electric_compressor=True, held_mg={"R-134a": 500_000})
    whole, rest = asked(steps, facts), asked(steps, facts, left_out(everything, "none"))
    assert {one.kind for one in whole if one.step is None} - {"hand-over"} <= {
        one.kind.name for one in QUESTIONS if one.key in MAY_BE_MISSED
    }
    assert "declined/signed" in {one.key for one in whole}
    assert _of_steps(rest) == {"hand-over"} | {
        one.key for one in QUESTIONS if one.key in _of_steps(whole) and one.kept_by("none")
    }
    assert "declined/signed" not in {one.key for one in rest}


def _of_steps(points: tuple[Asked, ...]) -> set[str]:
    return {one.key for one in points if one.step is None}


@pytest.mark.parametrize("jurisdiction", ["none", "us", "eu", "in"])
@pytest.mark.parametrize(
    "key",
    [
        "circuit-opened",  # asked for whether the pressure was relieved
        "recovery/heat",
        "recovery/final_pressure",
        "recovery/pressure_after_wait",
        "part-in/oil_type",
        "pulling-vacuum",
        "conversion-done/high_fitting",
        "conversion-done/low_fitting",
        "high-voltage-isolated",
    ],
)
def test_what_keeps_people_whole_is_asked_under_any_rules(key: str, jurisdiction: str) -> None:
    assert key in {one.key for one in QUESTIONS}
    assert not left_out({key}, jurisdiction)
