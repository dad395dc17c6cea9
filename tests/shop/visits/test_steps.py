"""What is still asked of a visit: nothing that is missing is passed over."""

from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from inventory.gases.cautions import cautions_for
from shop.visits.asked import Done, VehicleFacts, asked, gaps, next_kinds
from shop.visits.kinds import BY_NAME, KINDS
from shop.visits.steps import ASKED

ATMOSPHERE_PA = 101_325.0


def entry(value: Any, si: Any = None) -> dict[str, Any]:
    return {"text": value, "si": si, "echo": str(value)}


def whole(kind: str, **answers: Any) -> dict[str, Any]:
    """Every field of a kind answered with something, so that no gap hides the question a test is about."""
    data = {one.name: entry(one.choices[0] if one.choices else "1", 1.0) for one in BY_NAME[kind].fields}
    return {**data, **answers}


def log(*kinds: Any) -> list[Done]:
    found = []
    for number, one in enumerate(kinds, 1):
        kind, data = one if isinstance(one, tuple) else (one, whole(one))
        found.append(Done(number, kind, data))
    return found


def kinds_asked(steps_done: list[Done], **facts: Any) -> list[str]:
    return [one.kind for one in asked(steps_done, VehicleFacts(refrigerant="R-134a", **facts)) if one.step is None]


ARRIVAL = ("received", "label read", "ports seen", "standing pressure", "identified")


def test_a_new_visit_is_asked_for_everything_that_comes_before_the_work() -> None:
    assert kinds_asked(log("received"))[:4] == ["label read", "ports seen", "standing pressure", "identified"]


def test_an_open_circuit_on_arrival_has_no_standing_pressure_to_ask_for() -> None:
    arrived = ("received", whole("received", state=entry("hose off")))
    assert "standing pressure" not in kinds_asked(log(arrived))


def test_pressure_above_the_atmosphere_asks_for_a_recovery() -> None:
    stood = ("standing pressure", whole("standing pressure", pressure=entry("4.7 bar", ATMOSPHERE_PA + 470_000)))
    assert "recovery" in kinds_asked(log("received", stood))


def test_pressure_at_the_atmosphere_asks_for_none() -> None:
    stood = ("standing pressure", whole("standing pressure", pressure=entry("0.0 bar", ATMOSPHERE_PA)))
    assert "recovery" not in kinds_asked(log("received", stood))


def test_what_the_book_has_in_it_asks_for_a_recovery_even_without_a_pressure() -> None:
    assert "recovery" in kinds_asked(log("received"), held_mg={"R-134a": 784_000})


@pytest.mark.parametrize("why", ["target full", "fault", "other refrigerant found"])
def test_a_leg_that_stopped_early_asks_for_another(why: str) -> None:
    leg = ("recovery", whole("recovery", stopped=entry(why)))
    assert "recovery" in kinds_asked(log(*ARRIVAL, leg))


def test_what_is_left_after_a_recovery_is_to_be_settled() -> None:
    done = ("recovery", whole("recovery", stopped=entry("done")))
    assert "remainder settled" in kinds_asked(log(*ARRIVAL, done), held_mg={"R-134a": 144_000})
    assert "remainder settled" not in kinds_asked(log(*ARRIVAL, done))


def test_an_opened_circuit_asks_to_be_closed_searched_held_and_evacuated() -> None:
    wanted = kinds_asked(log(*ARRIVAL, "circuit opened"))
    for kind in ("circuit closed", "pressure hold", "leak search", "pulling vacuum", "vacuum hold"):
        assert kind in wanted


def test_proofs_made_before_the_work_do_not_count_after_it() -> None:
    before = log(*ARRIVAL, "pressure hold", "leak search", "circuit opened", "repair", "circuit closed")
    assert {"pressure hold", "leak search"} <= set(kinds_asked(before))


PROOF = {"pressure hold", "leak search", "pulling vacuum"}


def test_a_conversion_by_itself_asks_for_the_proof_only_where_it_stands_before_vacuum_and_charge() -> None:
    out = ("recovery", whole("recovery", stopped=entry("done")))
    assert {*PROOF, "vacuum hold"} <= set(kinds_asked(log(*ARRIVAL, out, "conversion done")))
    assert {"pressure hold", "leak search"} <= set(
        kinds_asked(log(*ARRIVAL, out, "conversion done", "vacuum hold", "charge"))
    )
    held = log(*ARRIVAL, out, "vacuum hold", "conversion done", "charge")
    assert not {*PROOF, "vacuum hold"} & set(kinds_asked(held))
    late = kinds_asked(log(*ARRIVAL, out, "charge", "conversion done"))
    assert not PROOF & set(late)
    assert "vacuum hold" in late  # it was asked of the charge before, and is not forgotten


def test_a_circuit_that_was_opened_is_not_proved_by_what_stood_before_it_converted_or_not() -> None:
    opened = log(*ARRIVAL, "vacuum hold", "circuit opened", "conversion done", "circuit closed")
    assert {*PROOF, "vacuum hold"} <= set(kinds_asked(opened))


def test_a_leak_that_was_found_asks_for_its_repair_and_a_new_search() -> None:
    found = ("leak search", whole("leak search", leaking=entry("1", 1.0)))
    assert "repair" in kinds_asked(log(*ARRIVAL, found))
    assert "leak search" in kinds_asked(log(*ARRIVAL, found, "repair"))
    clean = ("leak search", whole("leak search", leaking=entry("0", 0.0)))
    assert "leak search" not in kinds_asked(log(*ARRIVAL, found, "repair", clean))


def test_an_electric_compressor_asks_for_its_high_voltage_to_be_isolated() -> None:
    opened = log(*ARRIVAL, "circuit opened")
    assert "high voltage isolated" in kinds_asked(opened, electric_compressor=True)
    assert "high voltage isolated" not in kinds_asked(opened)


def test_a_charge_asks_for_the_running_test_and_the_search_with_the_charge_in() -> None:
    wanted = kinds_asked(log(*ARRIVAL, "charge"))
    assert "running test" in wanted
    assert "after-search" in wanted


def test_another_refrigerant_than_the_vehicles_asks_for_the_conversion() -> None:
    charged = [*log(*ARRIVAL), Done(9, "charge", whole("charge"), refrigerant="R-1234yf")]
    assert "conversion done" in kinds_asked(charged)


def test_hand_over_is_asked_for_last_until_it_is_done() -> None:
    assert asked(log("received"), VehicleFacts())[-1].kind == "hand-over"
    assert "hand-over" not in kinds_asked(log("received", "hand-over"))


def test_a_gap_in_a_step_is_asked_with_its_step() -> None:
    data = whole("leak search")
    del data["sensitivity"]
    gap = next(one for one in asked(log(("leak search", data)), VehicleFacts()) if one.step == 1)
    assert "smallest leak it shows" in gap.words


def test_no_label_is_an_answer_and_leaves_nothing_open() -> None:
    assert gaps(BY_NAME["label read"], {"label": entry("no label")}) == ()
    assert gaps(BY_NAME["label read"], {"label": entry("label read")}) != ()


def test_not_known_is_written_and_stays_open() -> None:
    data = whole("oil balance", type=entry("not known"))
    assert [one.name for one in gaps(BY_NAME["oil balance"], data)] == ["type"]


def test_why_more_oil_went_in_than_came_out_is_asked_only_where_it_did() -> None:
    oil = {"grade": entry("46"), "type": entry("PAG"), "maker": entry("130 mL")}
    alike = {**oil, "out": {"text": "30 mL", "si": 3e-5}, "in": {"text": "30 mL", "si": 3e-5}}
    assert gaps(BY_NAME["oil balance"], alike) == ()
    more = {**alike, "in": {"text": "40 mL", "si": 4e-5}}
    assert [one.name for one in gaps(BY_NAME["oil balance"], more)] == ["why"]
    assert gaps(BY_NAME["oil balance"], {**more, "why": entry("new compressor")}) == ()


def test_a_replaced_step_does_not_count() -> None:
    steps_done = [Done(1, "received", whole("received")), Done(2, "hand-over", whole("hand-over"), live=False)]
    assert "hand-over" in kinds_asked(steps_done)


def test_what_is_asked_is_offered_first() -> None:
    points = asked(log("received"), VehicleFacts())
    offered = next_kinds(points)
    assert [kind.name for kind in offered[:2]] == ["label read", "ports seen"]
    assert len(offered) == len(KINDS)


def test_every_choice_has_its_answers_and_every_caution_exists() -> None:
    for kind in KINDS:
        cautions_for(*kind.cautions) if kind.cautions else None
        for one in kind.fields:
            assert one.type not in ("choice", "yes-no") or one.choices
            if one.only_if is not None:
                assert kind.field(one.only_if[0]).choices


@given(st.lists(st.sampled_from([kind.name for kind in KINDS]), max_size=12))
def test_any_empty_field_of_any_last_step_is_always_named(names: list[str]) -> None:
    done = [Done(number, name, {}) for number, name in enumerate(names, 1)]
    points = asked(done, VehicleFacts())
    for step in done:
        is_last = not any(other.kind == step.kind and other.id > step.id for other in done)
        wants = any(one.need == ASKED and one.only_if is None for one in BY_NAME[step.kind].fields)
        if is_last and wants:
            assert any(point.step == step.id for point in points)


@given(st.lists(st.sampled_from([kind.name for kind in KINDS]), max_size=12))
def test_a_further_hand_over_never_hides_what_was_asked_before_it(names: list[str]) -> None:
    done = [Done(number, name, whole(name)) for number, name in enumerate(names, 1)]
    before = {one.kind for one in asked(done, VehicleFacts()) if one.kind != "hand-over"}
    after = {one.kind for one in asked([*done, Done(99, "hand-over", whole("hand-over"))], VehicleFacts())}
    assert before <= after


def test_the_words_of_a_step_say_none_of_the_banned_words() -> None:
    kinds = [f"{kind.words} {kind.done} {kind.lead}" for kind in KINDS]
    fields = [f"{one.words} {one.hint}" for kind in KINDS for one in kind.fields]
    words = " ".join(kinds + fields)
    for banned in ("pass ", "fail", "success", "warning", "critical", "compliant", "valid", "oops", "please", "!"):
        assert banned not in words.lower()
