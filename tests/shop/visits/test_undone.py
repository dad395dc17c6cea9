"""What a visit and its vehicle are after a line of theirs was reversed or written anew."""

from datetime import datetime, timedelta
from typing import Any
from uuid import uuid4

import pytest
from django.test import Client
from django.utils import timezone

from inventory.acts import undoing
from inventory.book.weighing import Gross
from shop.models import Visit
from shop.visits import endings, proofs
from shop.visits import log as visitlog
from shop.visits.acts import entering, gas_in, gas_out
from shop.visits.acts.entering import StepFacts
from shop.visits.gas import FromVehicle
from tests.shop.visits.looking import fetched

pytestmark = pytest.mark.django_db
KG = 1_000_000


@pytest.fixture
def visit(arrive: Any, make_vehicle: Any) -> Visit:
    car = make_vehicle("V1", refrigerant="R-134a", nameplate_mg=900_000, volume_m3=0.002)
    return arrive(car, timezone.now() - timedelta(minutes=30), state="runs")


@pytest.fixture
def recovered(visit: Visit, make_cylinder: Any, scale: Any, act: Any, technician: Any) -> Any:
    """860 g by two readings, into a recovery cylinder; the second is 100 g too high."""
    target = make_cylinder("R1", kind="recovery", grade="recovered", mass_mg=2 * KG)
    first = target.tare_mg + 2 * KG
    data = {
        "stopped": {"text": "done"},
        "pressure_after_wait": {"text": "0.9 bar", "si": 90_000.0},
        "coldest": {"text": "20 C", "si": 293.15},
    }
    before, after = Gross(target, scale, first, "before"), Gross(target, scale, first + 960_000, "after")
    gas = FromVehicle("R-134a", "recovered", None)
    entry, _ = gas_out.recover(
        visit, act(context=visit.context), StepFacts(technician, data=data), gas=gas, before=before, after=after
    )
    return entry


def test_a_corrected_reading_takes_its_step_along_and_the_proof_stands(
    visit: Visit, recovered: Any, book: Any, act: Any
) -> None:
    after = recovered.weighings.get(role="after")
    _, again = undoing.correct_after(
        book, act(context=visit.context), recovered, gross_mg=int(after.gross_mg) - 100_000, typed="corrected"
    )
    now = fetched(visit)
    steps = now.steps.filter(kind="recovery").order_by("pk")
    assert [step.entry.seq for step in steps] == [recovered.seq, again.seq]
    assert steps[1].replaces == steps[0]
    assert proofs.recovered(now).grams == 860
    proof = proofs.proof_of(now, 101_325.0)
    assert proof is not None
    assert proof.answer.missing_g == pytest.approx(40)


def test_reversed_it_counts_no_more_and_nobody_knows_what_is_inside(
    visit: Visit, recovered: Any, book: Any, act: Any
) -> None:
    visit.vehicle.refresh_from_db()
    assert visit.vehicle.content == "part recovered"
    undoing.reverse(book, act(), recovered)
    visit.vehicle.refresh_from_db()
    assert visit.vehicle.content == "unknown"
    assert endings.legs(fetched(visit)) == []


def test_a_charge_undone_leaves_no_known_content(
    visit: Visit, cylinder: Any, scale: Any, act: Any, technician: Any, book: Any
) -> None:
    visit.vehicle.content = "evacuated"
    visit.vehicle.save()
    gross = cylinder.tare_mg + 5 * KG
    before, after = Gross(cylinder, scale, gross, "before"), Gross(cylinder, scale, gross - 500_000, "after")
    entry, _ = gas_in.charge(visit, act(context=visit.context), StepFacts(technician), before=before, after=after)
    visit.vehicle.refresh_from_db()
    assert visit.vehicle.content == "known"
    undoing.reverse(book, act(), entry)
    visit.vehicle.refresh_from_db()
    assert visit.vehicle.content == "unknown"


def test_the_charge_record_strikes_through_what_was_put_right(
    visit: Visit, recovered: Any, book: Any, act: Any, technician_client: Client
) -> None:
    after = recovered.weighings.get(role="after")
    reversal, again = undoing.correct_after(
        book, act(context=visit.context), recovered, gross_mg=int(after.gross_mg) - 100_000, typed="corrected"
    )
    page = technician_client.get(f"/w/port-ellery/vehicles/{visit.vehicle.account.number}/").content.decode()
    record = page.partition("<h2>Charge record</h2>")[2].partition("</ul>")[0]
    old, new = record.replace("\N{NARROW NO-BREAK SPACE}", " ").split("<li")[1:]
    assert old.startswith(' class="reversed"')
    assert "0.960 kg" in old
    assert f"line {recovered.seq}" in old
    assert f"reversed by line {reversal.seq}" in old
    assert not new.startswith(' class="reversed"')
    assert "0.860 kg" in new
    assert f"line {again.seq}" in new
    assert "reversed" not in new


def test_the_charge_record_says_a_line_once_whose_step_was_entered_anew(
    visit: Visit, recovered: Any, technician: Any
) -> None:
    step = visit.steps.get(kind="recovery")
    entering.amend_step(step, occurred_at=step.occurred_at, key=uuid4(), facts=StepFacts(technician, data=step.data))
    shown = visitlog.record_of(fetched(visit), visit.workshop.units)
    assert [one.step.entry for one in shown] == [recovered]
    assert shown[0].stands


def test_a_reversed_charge_does_not_shorten_the_time_in_which_gas_was_lost(
    visit: Visit, book: Any, act: Any, post: Any, cylinder: Any, account: Any
) -> None:
    def ago(days: int) -> datetime:
        return visit.opened_at - timedelta(days=days)

    post("charge", cylinder, visit.vehicle, 900_000, at=ago(400))
    wrong = post("charge", cylinder, visit.vehicle, 50_000, at=ago(205))
    post("lost-on-the-road", visit.vehicle, account("air"), 100_000, grade="recovered", basis="rest", at=ago(200))
    undoing.reverse(book, act(), wrong)
    grams_a_year, _ = proofs.leak_history(fetched(visit))
    assert grams_a_year == pytest.approx(100 / (200 / 365.25))
