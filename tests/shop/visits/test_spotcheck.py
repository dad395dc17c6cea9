"""One visit in twenty is looked at by a second person, and nobody can choose which."""

from hashlib import sha256
from typing import Any
from uuid import uuid4

import pytest
from django.test import Client
from hypothesis import given
from hypothesis import strategies as st

from inventory.models.trace import Trace
from shop.models import Membership, Step, Visit, Workshop
from shop.pages.owed import owed
from shop.visits.log import asked_here, open_points
from shop.visits.spotcheck import DRAWN_BY, ONE_IN, SPOT_CHECK, chooses, is_chosen
from tests.shop.visits.looking import HOME, fetched

CHOSEN = f"{ONE_IN * 7:064x}"
CHECK = {"looked": "pressures and label", "found": "agrees"}


@given(st.integers(0, 2**256 - 1))
def test_a_digest_is_read_as_one_number(number: int) -> None:
    assert chooses(f"{number:064x}") == (number % 20 == 0)


def test_about_one_digest_in_twenty_chooses() -> None:
    chosen = sum(chooses(sha256(str(n).encode()).hexdigest()) for n in range(20_000))
    assert abs(chosen - 1_000) < 5 * (20_000 * 0.05 * 0.95) ** 0.5


@pytest.mark.parametrize("text", ["", "0", "not hexadecimal", CHOSEN[:-1], CHOSEN + "0", "-" + CHOSEN[1:]])
def test_what_is_no_digest_chooses_nothing(text: str) -> None:
    assert not is_chosen({DRAWN_BY: {"text": text}})


@pytest.fixture
def visit(arrive: Any) -> Visit:
    made: Visit = arrive(state="runs")
    return made


@pytest.fixture
def handed(visit: Visit, send: Any) -> Step:
    assert send(f"visits/{visit.number}/hand-over/", documents="invoice").status_code == 303
    return Step.objects.get(kind="hand-over")


@pytest.fixture
def chosen(handed: Step) -> Visit:
    """A visit that was handed over and chosen."""
    Step.objects.filter(pk=handed.pk).update(data={**handed.data, DRAWN_BY: {"text": CHOSEN}})
    return Visit.objects.get(pk=handed.visit_id)


def asks(visit: Visit, workshop: Workshop) -> bool:
    return SPOT_CHECK in {one.kind for one in asked_here(fetched(visit), workshop.units)}


def sent(client: Client, visit: Visit, doer: Any, **more: str) -> Any:
    there = f"{HOME}visits/{visit.number}/add/spot-check/"
    return client.post(there, {"key": str(uuid4()), "doer": doer.handle, **CHECK, **more})


def test_a_hand_over_keeps_the_digest_that_its_own_state_has_in_the_history(visit: Visit, send: Any) -> None:
    before = set(Trace.objects.values_list("digest", flat=True))
    send(f"visits/{visit.number}/hand-over/", documents="invoice")
    drawn = Step.objects.get(kind="hand-over").data[DRAWN_BY]["text"]
    assert drawn not in before  # nobody could know it
    trace = Trace.objects.get(digest=drawn)
    assert (trace.model, trace.record) == ("visit", visit.pk)
    assert Visit.CLOSED in trace.said


def test_a_hand_over_sent_again_is_not_drawn_again(visit: Visit, send_once: Any) -> None:
    key, path = str(uuid4()), f"visits/{visit.number}/hand-over/"
    for _ in range(2):
        assert send_once(path, key=key, documents="invoice").status_code == 303
    assert Step.objects.filter(kind="hand-over").count() == 1


def test_a_workshop_that_leaves_spot_checks_out_draws_none(visit: Visit, workshop: Workshop, send: Any) -> None:
    workshop.not_asked = ["spot-check"]
    workshop.save()
    send(f"visits/{visit.number}/hand-over/", documents="invoice")
    assert DRAWN_BY not in Step.objects.get(kind="hand-over").data


def test_what_was_chosen_is_asked_until_somebody_else_has_looked(
    chosen: Visit, workshop: Workshop, owner: Any, owner_client: Client
) -> None:
    assert asks(chosen, workshop)
    assert SPOT_CHECK not in {one.kind for one in open_points(fetched(chosen), workshop.units)}  # on no paper
    [listed] = [one for one in owed(workshop, workshop.units) if "spot check" in one.words]
    assert owner_client.get(listed.href).status_code == 200
    assert "spot check" in owner_client.get(HOME).content.decode()
    assert sent(owner_client, chosen, owner).status_code == 303
    assert not asks(chosen, workshop)
    assert not [one for one in owed(workshop, workshop.units) if "spot check" in one.words]
    page = owner_client.get(f"{HOME}visits/{chosen.number}/").content.decode()
    assert "Spot check: agrees, looked at: pressures and label" in page


def test_what_was_not_chosen_or_has_no_digest_is_not_asked(handed: Step, workshop: Workshop, owner: Any) -> None:
    kept = {name: one for name, one in handed.data.items() if name != DRAWN_BY}
    for more in ({}, {DRAWN_BY: {"text": f"{1:064x}"}}):
        Step.objects.filter(pk=handed.pk).update(data={**kept, **more})
        assert not asks(handed.visit, workshop)


def test_who_worked_at_a_visit_neither_checks_it_nor_enters_a_check_of_it(
    chosen: Visit, technician: Any, owner: Any, technician_client: Client, owner_client: Client
) -> None:
    for client, doer in ((technician_client, technician), (technician_client, owner), (owner_client, technician)):
        answer = sent(client, chosen, doer)
        assert answer.status_code == 422
        [why] = answer.context["form"].errors["doer"]
        assert str(owner) in why
    assert not Step.objects.filter(kind=SPOT_CHECK).exists()


def test_a_check_comes_after_the_hand_over(visit: Visit, owner: Any, owner_client: Client) -> None:
    answer = sent(owner_client, visit, owner)
    assert answer.status_code == 422
    assert "Hand the vehicle over first" in answer.content.decode()
    assert "spot-check" not in owner_client.get(f"{HOME}visits/{visit.number}/").content.decode()


def test_what_does_not_agree_is_said_in_words(chosen: Visit, owner: Any, owner_client: Client) -> None:
    assert sent(owner_client, chosen, owner, found="does not agree").status_code == 422
    assert (
        sent(owner_client, chosen, owner, found="does not agree", gap="the label names another gas").status_code == 303
    )


def test_where_nobody_else_may_write_it_is_not_asked(chosen: Visit, workshop: Workshop, owner: Any) -> None:
    assert asks(chosen, workshop)
    Membership.objects.filter(user=owner).update(active=False)
    assert not asks(chosen, workshop)
