"""What people do with cylinders: every act writes what it should, refuses what it must, and the slips of scenarios.

Figures with a scenario's name are those of the acceptance scenarios; the workings stand beside them.
"""

from collections.abc import Callable
from datetime import date, datetime, timedelta
from decimal import Decimal
from typing import Any
from uuid import uuid4

import pytest

from inventory.acts import describing, onscale, partners, receiving, settling
from inventory.acts.receiving import First
from inventory.book import differences, weighing
from inventory.book.refusals import LedgerError, Refused
from inventory.book.weighing import Gross
from inventory.models import Analysis, Cylinder, Entry, Movement, Partner, Tare, Weighing
from inventory.shelf import limits

pytestmark = pytest.mark.django_db
G = 1_000


def only(entry: Entry, cause: str) -> Movement:
    return entry.movements.get(cause=cause)


def new_cylinder(serial: str = "C-34", **fields: Any) -> Cylinder:
    working = {
        "kind": Cylinder.REFILLABLE,
        "refrigerant": "R-134a",
        "grade": "virgin",
        "tare_mg": 6_200 * G,
        "tare_u_mg": 28_868,  # a stamp good to 50 g: 50 / sqrt 3
        "water_capacity_m3": 0.012,
        **fields,
    }
    return Cylinder(serial=serial, **working)


# Receiving


def test_scenario_1_a_purchase_is_known_by_one_weighing(book: Any, act: Any, partner: Partner, scale: Any) -> None:
    first, new = First("purchase", "single", partner), new_cylinder()
    cylinder = receiving.receive_cylinder(book, act(), new, first, Gross(new, scale, 17_190 * G, "17.190"))
    bought = Movement.objects.get(target=cylinder.account)
    assert (bought.cause, bought.basis, bought.mass_mg) == ("purchase", "single", 10_990 * G)
    assert bought.u_mg / G == pytest.approx(30.7, abs=0.05)  # scenario 1
    assert Tare.objects.get(cylinder=cylinder).tare_mg == 6_200 * G


def test_a_receipt_pressed_twice_is_one_cylinder(book: Any, act: Any, partner: Partner, scale: Any) -> None:
    key, first = uuid4(), First("purchase", "single", partner)
    readings = [Gross(new_cylinder(), scale, 17_190 * G, "17.190") for _ in range(2)]
    one, two = (receiving.receive_cylinder(book, act(key), each.cylinder, first, each) for each in readings)
    assert one.pk == two.pk
    assert Cylinder.objects.count() == 1


def test_a_second_cylinder_of_the_same_number_is_refused(book: Any, act: Any, cylinder: Cylinder) -> None:
    with pytest.raises(Refused, match="on the shelf already"):
        receiving.receive_cylinder(book, act(), new_cylinder(cylinder.serial))
    assert Cylinder.objects.count() == 1


def test_a_receipt_by_paper_or_count_needs_no_scale(book: Any, act: Any, partner: Partner, held: Any) -> None:
    cans = new_cylinder("L-1", kind=Cylinder.CANS, tare_mg=0, can_count=12, can_content_mg=340 * G)
    counted = receiving.receive_cylinder(book, act(), cans, First("purchase", "count", partner, 12 * 340 * G, 1_000))
    paper = receiving.receive_cylinder(
        book, act(), new_cylinder(), First("purchase", "paper", partner, 11_000 * G, 31_754)
    )
    assert held(counted) == {("R-134a", "virgin"): 4_080 * G}
    assert held(paper) == {("R-134a", "virgin"): 11_000 * G}


def test_a_receipt_of_nothing_is_refused(book: Any, act: Any, partner: Partner, scale: Any) -> None:
    new = new_cylinder()
    reading = Gross(new, scale, 6_200 * G, "6.200")
    with pytest.raises(Refused, match="would hold nothing"):
        receiving.receive_cylinder(book, act(), new, First("purchase", "single", partner), reading)
    assert not Cylinder.objects.exists()


def test_what_stood_here_and_weighs_as_empty_stands_empty_with_its_reading(
    book: Any, act: Any, scale: Any, held: Any
) -> None:
    reading = Gross(new := new_cylinder(), scale, 6_200 * G, "6.200")
    made = receiving.receive_cylinder(book, act(), new, First("opening-stock", "single"), reading)
    assert held(made) == {}
    assert made.account.weighings.get().gross_mg == 6_200 * G


# Empty mass


def test_a_tare_is_corrected_on_the_empty_cylinder_and_keeps_its_versions(
    book: Any, act: Any, gross: Any, make_cylinder: Any, held: Any
) -> None:
    cylinder = make_cylinder(mass_mg=40 * G)
    entry = describing.correct_tare(book, act(), gross(cylinder, 6_240))
    cylinder.refresh_from_db()
    assert (cylinder.tare_mg, cylinder.tare_source) == (6_240 * G, "measured evacuated")
    assert only(entry, "tare-corrected").mass_mg == 40 * G
    assert held(cylinder) == {}
    assert entry.weighings.get().net_mg == 0


def test_a_tare_is_not_raised_under_a_content(book: Any, act: Any, gross: Any, cylinder: Cylinder) -> None:
    with pytest.raises(Refused, match="empty and evacuate it first"):
        describing.correct_tare(book, act(), gross(cylinder, 6_500))
    cylinder.refresh_from_db()
    assert cylinder.tare_mg == 6_200 * G


# The scale


def test_scenario_7_a_weekend_loss_is_found_and_later_explained(
    book: Any, act: Any, gross: Any, make_cylinder: Any, held: Any, account: Any, now: datetime
) -> None:
    cylinder = make_cylinder("C-35", tare_mg=6_360 * G, grade="recovered", mass_mg=5_060 * G)
    friday, monday = now - timedelta(days=3), now - timedelta(hours=6)
    onscale.weigh(book, act(at=friday), gross(cylinder, 11_420))
    entry = onscale.weigh(book, act(at=monday), gross(cylinder, 11_240))
    difference = only(entry, "weighing-difference")
    assert difference.mass_mg == 180 * G
    assert difference.can_tell_mg / G == pytest.approx(9.13, abs=0.01)
    (finding,) = differences.open_differences(book)
    assert finding.times == pytest.approx(19.7, abs=0.05)

    settling.explain(book, act(remark="bubbles at the valve"), difference, cause="loss-explained", mass_mg=180 * G)
    assert differences.open_differences(book) == []
    assert differences.open_mg(difference) == 0
    assert held(account("air")) == {("R-134a", ""): 180 * G}
    assert held(cylinder) == {("R-134a", "recovered"): 4_880 * G}


def test_no_more_is_explained_than_is_open(book: Any, act: Any, gross: Any, cylinder: Cylinder) -> None:
    onscale.weigh(book, act(), gross(cylinder, 11_200))
    difference = only(onscale.weigh(book, act(), gross(cylinder, 11_100)), "weighing-difference")
    with pytest.raises(Refused, match="100"):
        settling.explain(book, act(), difference, cause="loss-explained", mass_mg=101 * G)
    settling.explain(book, act(), difference, cause="loss-explained", mass_mg=60 * G)
    with pytest.raises(Refused, match="0.040"):
        settling.explain(book, act(), difference, cause="loss-explained", mass_mg=60 * G)


def test_a_charge_nobody_wrote_down_needs_its_vehicle(
    book: Any, act: Any, gross: Any, cylinder: Cylinder, vehicle_account: Any, held: Any
) -> None:
    difference = only(onscale.weigh(book, act(), gross(cylinder, 10_700)), "weighing-difference")
    with pytest.raises(Refused, match="Name the vehicle"):
        settling.explain(book, act(), difference, cause="late-charge", mass_mg=500 * G)
    settling.explain(book, act(), difference, cause="late-charge", mass_mg=500 * G, vehicle=vehicle_account)
    assert held(vehicle_account) == {("R-134a", ""): 500 * G}


def test_a_reading_below_the_empty_mass_is_refused(book: Any, act: Any, gross: Any, cylinder: Cylinder) -> None:
    with pytest.raises(weighing.BelowTare, match="less than the empty mass"):
        onscale.weigh(book, act(), gross(cylinder, 6_000))
    assert not Weighing.objects.exists()


def test_a_round_of_the_floor_is_one_entry(book: Any, act: Any, gross: Any, make_cylinder: Any, held: Any) -> None:
    first, second, third = (make_cylinder(mass_mg=5_000 * G) for _ in range(3))
    entry = onscale.stock_take(book, act(), [gross(first, 11_200), gross(second, 11_150)])
    assert entry.weighings.count() == 2
    assert only(entry, "weighing-difference").mass_mg == 50 * G
    assert [sum(held(one).values()) for one in (first, second, third)] == [5_000 * G, 4_950 * G, 5_000 * G]


@pytest.mark.parametrize("twice", [False, True])
def test_a_round_without_readings_or_with_one_twice_is_refused(
    book: Any, act: Any, gross: Any, cylinder: Cylinder, twice: bool
) -> None:
    readings = [gross(cylinder, 11_200)] * 2 if twice else []
    with pytest.raises(Refused):
        onscale.stock_take(book, act(), readings)
    assert not Weighing.objects.exists()


def test_a_preview_says_the_same_as_the_weighing_and_writes_nothing(
    book: Any, act: Any, gross: Any, cylinder: Cylinder
) -> None:
    head = book.head_seq
    settled = onscale.preview(book, gross(cylinder, 11_000))
    book.refresh_from_db()
    assert book.head_seq == head + 1  # the opening stock alone
    written = only(onscale.weigh(book, act(), gross(cylinder, 11_000)), "weighing-difference")
    assert (-settled.difference_mg, settled.can_tell_mg) == (written.mass_mg, written.can_tell_mg)


# Between cylinders


@pytest.fixture
def pour(book: Any, act: Any, gross: Any) -> Callable[..., Entry]:
    """Pour out of a cylinder of 5 kg until it reads `after_g`."""

    def write(source: Cylinder, target: Cylinder, after_g: int, **how: Any) -> Entry:
        before, after = gross(source, 11_200), gross(source, after_g)
        return onscale.transfer(book, act(), source=source, target=target, before=before, after=after, **how)

    return write


def test_a_transfer_by_a_pair_of_readings(pour: Any, cylinder: Cylinder, make_cylinder: Any, held: Any) -> None:
    target = make_cylinder()
    entry = pour(cylinder, target, 9_700)
    moved = only(entry, "transfer")
    assert (moved.mass_mg, moved.basis) == (1_500 * G, "pair")
    assert held(target) == {("R-134a", "virgin"): 1_500 * G}


def test_a_heel_drawn_into_a_recovery_cylinder_becomes_recovered(
    pour: Any, cylinder: Cylinder, make_cylinder: Any, held: Any
) -> None:
    target = make_cylinder(kind=Cylinder.RECOVERY, grade="recovered", mass_mg=1_000 * G)
    entry = pour(cylinder, target, 10_200)
    assert entry.movements.filter(cause="regrade").count() == 2
    assert held(target) == {("R-134a", "recovered"): 2_000 * G}


def refused_targets() -> list[Any]:
    past = date(2020, 1, 1)
    return [
        pytest.param({"kind": Cylinder.SINGLE_TRIP}, "never filled", id="single trip"),
        pytest.param({"requalify_by": past}, "requalification date", id="past its test date"),
        pytest.param({"water_capacity_m3": 0.001}, "over what", id="no room"),
        pytest.param({"refrigerant": "R-1234yf", "mass_mg": 500 * G}, "R-1234yf", id="another refrigerant"),
        pytest.param({"state": "away"}, "stands here", id="away"),
    ]


@pytest.mark.parametrize(("fields", "sentence"), refused_targets())
def test_what_may_not_be_filled_is_refused_beforehand(
    pour: Any,
    cylinder: Cylinder,
    make_cylinder: Any,
    held: Any,
    fields: Any,
    sentence: str,
) -> None:
    target = make_cylinder(**fields)
    with pytest.raises(LedgerError, match=sentence):
        pour(cylinder, target, 9_700)
    assert held(cylinder) == {("R-134a", "virgin"): 5_000 * G}


def test_what_has_happened_is_written_past_a_limit(
    pour: Any, cylinder: Cylinder, make_cylinder: Any, held: Any
) -> None:
    target = make_cylinder(water_capacity_m3=0.001)
    pour(cylinder, target, 9_700, happened=True)
    assert held(target) == {("R-134a", "virgin"): 1_500 * G}


# Grade and identity


def test_a_change_of_grade_takes_all_through_the_process(
    book: Any, act: Any, make_cylinder: Any, held: Any, account: Any
) -> None:
    cylinder = make_cylinder(grade="recovered", mass_mg=3_000 * G)
    describing.regrade(book, act(remark="recycled by the machine"), cylinder, grade="recycled")
    assert held(cylinder) == {("R-134a", "recycled"): 3_000 * G}
    assert held(account("process")) == {}
    with pytest.raises(Refused, match="already"):
        describing.regrade(book, act(), cylinder, grade="recycled")


def test_an_empty_cylinder_has_no_grade_to_change(book: Any, act: Any, make_cylinder: Any) -> None:
    with pytest.raises(Refused, match="holds nothing"):
        describing.regrade(book, act(), make_cylinder(), grade="recovered")


def test_scenario_4_a_mixture_becomes_suspect_and_has_the_strictest_limit(
    book: Any, act: Any, make_cylinder: Any, held: Any
) -> None:
    cylinder = make_cylinder(
        "C-40", refrigerant="R-1234yf", grade="recovered", mass_mg=465 * G, water_capacity_m3=0.006, kind="recovery"
    )
    parts = {"R-1234yf": "0.915", "R-134a": "0.080", "air": "0.005"}
    describing.reidentify(book, act(), cylinder, refrigerant="MIXED", parts=parts, instrument="identifier 3")
    cylinder.refresh_from_db()
    assert held(cylinder) == {("MIXED", "suspect"): 465 * G}
    assert cylinder.state == "suspect"
    assert limits.measured_parts(cylinder.account)["R-1234yf"] == Decimal("0.915")
    assert Analysis.objects.get().instrument == "identifier 3"
    limit = limits.filling_limit(cylinder, "MIXED", "none")
    assert limit is not None
    assert limit.max_net_g == pytest.approx(5_241, rel=0.01)  # scenario 4


# Closing


def test_a_book_is_closed_through_a_day_that_is_over_and_only_forward(book: Any, act: Any, now: datetime) -> None:
    today = now.astimezone().date()
    with pytest.raises(Refused, match="not over yet"):
        settling.close_through(book, act(), today + timedelta(days=2))
    settling.close_through(book, act(), today - timedelta(days=10))
    with pytest.raises(Refused, match="closed through"):
        settling.close_through(book, act(), today - timedelta(days=11))


# What is not a mass


def test_a_cylinder_that_holds_gas_keeps_its_purpose(cylinder: Cylinder, make_cylinder: Any) -> None:
    with pytest.raises(Refused, match="holds gas"):
        describing.change_cylinder(cylinder, refrigerant="R-12")
    other = make_cylinder("OTHER")
    with pytest.raises(Refused, match="on the shelf already"):
        describing.change_cylinder(other, serial=cylinder.serial)
    describing.change_cylinder(other, serial="NEW-1", place="rack 2")
    other.refresh_from_db()
    assert (other.serial, other.place, other.account.label) == ("NEW-1", "rack 2", "NEW-1")


def test_a_partner_is_entered_once(book: Any) -> None:
    made = partners.add_partner(book, name="Harbour Gas", kind="supplier")
    with pytest.raises(Refused, match="in the book already"):
        partners.add_partner(book, name="harbour gas", kind="supplier")
    partners.change_partner(made, name="Harbour Gases", kind="supplier")
    made.account.refresh_from_db()
    assert made.account.label == "Harbour Gases"
