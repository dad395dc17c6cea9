"""Pages of the lines of the book: the list and its filters, one line, reversal, explanation, correction, closing."""

import csv
import io
from datetime import UTC, datetime, timedelta
from typing import Any
from uuid import uuid4

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.utils import timezone

from inventory.acts import onscale, undoing
from inventory.book.weighing import Gross
from inventory.models import Cylinder, Entry, Movement, Remark
from tests.answers import confirm, words

pytestmark = pytest.mark.django_db
BASE = "/w/port-ellery"
G = 1_000


@pytest.fixture
def client(technician_client: Client) -> Client:
    return technician_client


@pytest.fixture
def played(cylinder: Cylinder, make_cylinder: Any, post: Any, vehicle_account: Any, now: datetime) -> dict[str, Entry]:
    """Lines of several kinds: two charges (one late), a recovery of another gas, a purge reversed."""
    other = make_cylinder("R-1", refrigerant="R-12", grade="recovered", kind="recovery")
    charge = post("charge", cylinder, vehicle_account, 500 * G)
    late = post("charge", cylinder, vehicle_account, 300 * G, at=now - timedelta(days=9))
    post("found-in-vehicle", opening(cylinder), vehicle_account, 700 * G, refrigerant="R-12", grade="recovered")
    recovery = post("recovery", vehicle_account, other, 700 * G, refrigerant="R-12", grade="recovered")
    return {"charge": charge, "late": late, "recovery": recovery}


def opening(cylinder: Cylinder) -> Any:
    from inventory.models import Account

    return Account.objects.get(book=cylinder.account.book, kind="opening")


def shown(client: Client, query: str) -> set[int]:
    table = client.get(f"{BASE}/lines/?{query}").context["table"]
    return {entry.seq for entry in table.leaf().records}


def test_filters_narrow_by_cause_gas_grade_account_and_state(
    client: Client, played: dict[str, Entry], cylinder: Cylinder, book: Any, act: Any
) -> None:
    charge, late, recovery = (played[name].seq for name in ("charge", "late", "recovery"))
    assert shown(client, "cause=charge") == {charge, late}
    assert shown(client, "cause=charge&cause=recovery") == {charge, late, recovery}
    assert recovery in shown(client, "refrigerant=R-12")
    assert charge not in shown(client, "refrigerant=R-12")
    assert shown(client, "grade=recovered&cause=recovery") == {recovery}
    assert shown(client, f"account={cylinder.account.number}&cause=charge") == {charge, late}
    assert shown(client, "late=on") == {late}
    reversal = undoing.reverse(book, act(), played["charge"])
    assert shown(client, "reversed=on") == {charge, reversal.seq}


def test_a_period_goes_by_the_day_that_counts(client: Client, played: dict[str, Entry], now: datetime) -> None:
    day = played["late"].booked_on.isoformat()
    assert shown(client, f"from={day}&to={day}") == {played["late"].seq}
    assert "None" in words(client.get(f"{BASE}/lines/?to=1999-01-01"))


def test_the_lines_behind_a_figure_add_up_to_it(client: Client, played: dict[str, Entry], book: Any, act: Any) -> None:
    assert "Together 0.800 kg R-134a" in words(client.get(f"{BASE}/lines/?cause=charge&refrigerant=R-134a"))
    undoing.reverse(book, act(), played["charge"])
    assert "Together 0.300 kg R-134a" in words(client.get(f"{BASE}/lines/?cause=charge&refrigerant=R-134a"))


def test_what_is_in_force_is_said_and_can_be_taken_away(client: Client, played: dict[str, Entry]) -> None:
    page = words(client.get(f"{BASE}/lines/?cause=charge&cause=recovery&grade=virgin"))
    assert "cause recovered, charged" in page or "cause charged, recovered" in page
    assert 'href="/w/port-ellery/lines/?grade=virgin"' in page


@pytest.mark.parametrize("query", ["account=99999", "account=x", "from=never", "cause=nothing", "after=zzz", "sort=x"])
def test_an_address_that_makes_no_sense_breaks_nothing(client: Client, played: dict[str, Entry], query: str) -> None:
    assert client.get(f"{BASE}/lines/?{query}").status_code in (200, 404)


def test_the_files_have_a_row_for_each_movement(client: Client, played: dict[str, Entry]) -> None:
    answer = client.get(f"{BASE}/lines/?cause=charge&format=csv")
    rows = list(csv.DictReader(io.StringIO(b"".join(answer.streaming_content).decode())))
    assert [row["mass_mg"] for row in rows] == ["300000", "500000"]
    assert {row["late"] for row in rows} == {"late", ""}
    assert "<" not in "".join(rows[0].values())


def test_the_list_does_not_grow(client: Client, cylinder: Cylinder, post: Any, vehicle_account: Any) -> None:
    def count(query: str = "") -> int:
        with CaptureQueriesContext(connection) as found:
            assert client.get(f"{BASE}/lines/{query}").status_code == 200
        return len(found)

    post("charge", cylinder, vehicle_account, 10 * G)
    filtered = f"?account={cylinder.account.number}&cause=charge"
    few = count(), count(filtered)
    for _ in range(20):
        post("charge", cylinder, vehicle_account, 10 * G)
    assert (count(), count(filtered)) == few


# One line


def test_a_line_shows_its_movement_reading_digest_and_note(
    client: Client, technician: Any, cylinder: Cylinder, scale: Any, book: Any, act: Any
) -> None:
    entry = onscale.weigh(
        book, act(actor=technician.handle, remark="cold cylinder"), Gross(cylinder, scale, 11_000 * G, "11.0 kg")
    )
    page = words(client.get(f"{BASE}/lines/{entry.seq}/"))
    assert "Tomas Lind" in page
    assert technician.handle not in page.partition("<main")[2]
    assert "unexplained: " in page
    assert "11.000 kg gross, 4.800 kg net (typed 11.0 kg)" in page
    assert entry.digest in page
    assert Entry.objects.get(book=book, seq=entry.seq - 1).digest in page
    assert "cold cylinder" in page


def test_a_reversal_asks_a_reason_is_read_back_and_leaves_both_lines(
    client: Client, played: dict[str, Entry], cylinder: Cylinder, held: Any
) -> None:
    seq = played["charge"].seq
    at = f"{BASE}/lines/{seq}/reverse/"
    assert confirm(client, at, reason="").status_code == 422
    answer = confirm(client, at, reason="typed into the wrong car")
    assert answer.status_code == 303
    reversal = Entry.objects.get(reverses__seq=seq)
    assert Remark.objects.get(entry=reversal).text == "typed into the wrong car"
    assert held(cylinder) == {("R-134a", "virgin"): 4_700 * G}
    page = words(client.get(f"{BASE}/lines/{seq}/"))
    assert f"reversed by line {reversal.seq}" in page
    again = confirm(client, at, reason="once more")
    assert again.status_code == 422
    assert f"was reversed already, by line {reversal.seq}" in words(again)


def test_scenario_7_a_difference_is_explained_through_the_page(
    client: Client, cylinder: Cylinder, scale: Any, book: Any, act: Any
) -> None:
    entry = onscale.weigh(book, act(), Gross(cylinder, scale, 11_020 * G, "11.020"))
    at = f"{BASE}/lines/{entry.seq}/explain/"
    wanted = client.get(at)
    assert "180 g missing" in words(wanted)
    line = next(iter(wanted.context["form"].differences))
    refused = confirm(client, at, difference=line, cause="loss-explained", mass="200 g", reason="valve")
    assert refused.status_code == 422
    assert "0.180 kg of this difference is open" in words(refused)
    good = {"key": str(uuid4()), "difference": line, "cause": "loss-explained", "reason": "bubbles at the valve, photo"}
    for _ in range(2):  # pressed twice
        assert confirm(client, at, **good).status_code == 303
    assert Movement.objects.get(cause="loss-explained").mass_mg == 180 * G
    page = words(client.get(f"{BASE}/lines/{entry.seq}/"))
    assert "Explained by" in page
    assert "Nothing is open" in words(client.get(at))


def test_a_charge_not_written_down_asks_for_its_vehicle(
    client: Client, cylinder: Cylinder, scale: Any, book: Any, act: Any, vehicle_account: Any
) -> None:
    entry = onscale.weigh(book, act(), Gross(cylinder, scale, 10_700 * G, "10.7"))
    at = f"{BASE}/lines/{entry.seq}/explain/"
    line = next(iter(client.get(at).context["form"].differences))
    facts = {"difference": line, "cause": "late-charge", "reason": "found the sheet"}
    assert "Choose the vehicle" in words(confirm(client, at, **facts))
    assert confirm(client, at, **facts, vehicle=vehicle_account.number).status_code == 303
    assert Movement.objects.get(cause="late-charge").target == vehicle_account


def test_scenario_10_an_old_reading_is_put_right_through_the_page(
    client: Client,
    make_cylinder: Any,
    make_vehicle: Any,
    workshop: Any,
    technician: Any,
    scale: Any,
    book: Any,
    act: Any,
    now: datetime,
    held: Any,
    arrive: Any,
) -> None:
    from shop.visits.acts import gas_in
    from shop.visits.acts.entering import StepFacts

    cylinder, vehicle = make_cylinder("C-34", mass_mg=1_072 * G), make_vehicle("V9")
    facts = StepFacts(doer=technician)
    day = now - timedelta(days=20)
    visit = arrive(vehicle, day)
    entry, _ = gas_in.charge(
        visit,
        act(at=day),
        facts,
        before=Gross(cylinder, scale, 7_270 * G, "7.270"),
        after=Gross(cylinder, scale, 6_620 * G, "6.620"),
    )
    onscale.weigh(book, act(at=now - timedelta(days=10)), Gross(cylinder, scale, 6_615 * G, "6.615"))
    at = f"{BASE}/lines/{entry.seq}/correct/"
    assert "6.620" in words(client.get(at))
    assert confirm(client, at, gross="6.620 kg", reason="photo").status_code == 422  # the same reading
    answer = confirm(client, at, gross="6.640 kg", reason="photo of the scale")
    assert answer.status_code == 303
    assert held(vehicle) == {("R-134a", ""): 630 * G}
    assert held(cylinder) == {("R-134a", "virgin"): 415 * G}  # its last weighing stands
    assert Movement.objects.get(cause="balance-after-correction").mass_mg == 20 * G
    assert shown(client, "late=on") >= {Entry.objects.order_by("-seq")[0].seq}


def test_a_reading_put_right_is_read_back_as_typed_and_leads_to_the_line_anew(
    client: Client,
    make_cylinder: Any,
    make_vehicle: Any,
    make_scale: Any,
    workshop: Any,
    technician: Any,
    act: Any,
    now: datetime,
    arrive: Any,
) -> None:
    from shop.visits.acts import gas_in
    from shop.visits.acts.entering import StepFacts

    workshop.mass_unit = "lb"
    workshop.save()
    scale = make_scale("S2", step_mg=14_175, step_number="0.5", step_unit="oz")
    cylinder, day, facts = make_cylinder("C-34", mass_mg=9_500 * G), now - timedelta(days=2), StepFacts(technician)
    visit = arrive(make_vehicle("V9"), day)
    before, after = (
        Gross(cylinder, scale, scale.step.mg_of(count), f"{said}.0 oz") for count, said in ((1_154, 577), (1_102, 551))
    )
    entry, _ = gas_in.charge(visit, act(at=day), facts, before=before, after=after)
    at = f"{BASE}/lines/{entry.seq}/correct/"
    data = {"key": str(uuid4()), "gross": "34", "gross_unit": "lb oz", "gross_oz": "6.5", "reason": "photo"}
    page = client.post(at, data)
    assert "551.0 oz</dd>" in words(page)
    assert "550.5 oz (typed: 34 lb 6.5 oz)" in words(page)
    assert " kg" not in words(page).partition("Should be")[2].partition("</dl>")[0]
    data["read_back"] = page.context["signature"]
    reversal, anew = entry.seq + 1, entry.seq + 2
    first = client.post(at, data, follow=True)
    assert first.redirect_chain[-1][0] == f"{BASE}/lines/{anew}/"
    assert f"Line {entry.seq} is reversed by line {reversal} and written anew as line {anew}." in words(first)
    assert f'before, S2, <a href="{BASE}/lines/{entry.seq}/">line {entry.seq}</a></dt><dd>577.0 oz gross' in words(
        first
    )
    again = client.post(at, data, follow=True)  # a second press leads to the same line
    assert again.redirect_chain[-1][0] == f"{BASE}/lines/{anew}/"
    assert Entry.objects.latest("seq").seq == anew
    assert {"charge"} <= set(Movement.objects.filter(entry__seq=anew).values_list("cause", flat=True))


# Closing


def test_only_the_owner_closes_and_is_told_that_it_cannot_be_undone(
    client: Client, owner_client: Client, cylinder: Cylinder, book: Any
) -> None:
    assert client.get(f"{BASE}/close/").status_code == 403
    page = words(owner_client.get(f"{BASE}/close/"))
    assert "This cannot be undone" in page
    assert cylinder.serial in page  # it was never weighed
    year = timezone.localdate().year - 1
    through = f"{year}-12-31"
    assert confirm(owner_client, f"{BASE}/close/", through=through).status_code == 422
    assert confirm(owner_client, f"{BASE}/close/", through="2100-01-01", understood="on").status_code == 422
    assert confirm(owner_client, f"{BASE}/close/", through=through, understood="on").status_code == 303
    book.refresh_from_db()
    assert book.closed_through is not None
    assert book.closed_through.isoformat() == through
    again = confirm(owner_client, f"{BASE}/close/", through=through, understood="on")
    assert again.status_code == 422
    assert "closed through" in words(again)


def test_a_line_for_a_closed_day_counts_today(
    owner_client: Client, cylinder: Cylinder, scale: Any, book: Any, act: Any
) -> None:
    year = timezone.localdate().year - 1
    confirm(owner_client, f"{BASE}/close/", through=f"{year}-12-31", understood="on")
    book.refresh_from_db()
    entry = onscale.weigh(book, act(at=datetime(year, 6, 1, tzinfo=UTC)), Gross(cylinder, scale, 11_200 * G, "11.2"))
    assert entry.booked_on.year == year + 1
    assert "late" in words(owner_client.get(f"{BASE}/lines/{entry.seq}/"))
