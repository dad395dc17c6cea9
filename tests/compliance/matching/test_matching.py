"""A partner's own list against the book: by rows alone, then through the page."""

from collections.abc import Callable
from dataclasses import replace
from datetime import date, timedelta
from typing import Any

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client
from hypothesis import given
from hypothesis import strategies as st

from compliance.findings import judging
from compliance.matching.lists import said_by
from compliance.matching.pairs import DELIVERED, TAKEN_BACK, Ours, Theirs, match, normal
from compliance.matching.sheet import NotAList, read_list, read_sheet
from compliance.models import Finding
from inventory.book import changed
from inventory.models import Entry, PartnerList

DAY = date(2025, 3, 3)
KG = 1_000_000


def row(**facts: Any) -> Theirs:
    return replace(Theirs(DAY, "R-134a", DELIVERED, 11 * KG, "HG-5521", 2), **facts)


def line(**facts: Any) -> Ours:
    return replace(Ours(DAY, "R-134a", DELIVERED, 10_990_000, "HG-5521", 6, 30_700.0), **facts)


def test_the_number_of_a_paper_pairs_however_it_is_written() -> None:
    (pair,) = match([row(paper="hg 5521", on=DAY + timedelta(days=40))], [line()]).pairs
    assert pair.by_paper
    assert (pair.gap_mg, pair.agrees) == (10_000, True)  # 10 g, and the reading can tell 61 g


def test_a_mass_beyond_what_the_reading_can_tell_is_paired_and_said() -> None:
    (pair,) = match([row(mass_mg=11_200_000)], [line()]).pairs
    assert (pair.gap_mg, pair.agrees) == (210_000, False)


def test_without_a_paper_the_nearest_day_is_taken_and_each_is_used_once() -> None:
    near, far = line(line=7, paper=""), line(line=6, paper="", on=DAY - timedelta(days=5))
    found = match([row(paper="")], [far, near])
    assert [pair.ours.line for pair in found.pairs] == [7]
    assert [one.line for one in found.only_ours] == [6]


@pytest.mark.parametrize(
    "other",
    [
        {"paper": "", "on": DAY + timedelta(days=11)},
        {"paper": "", "refrigerant": "R-12"},
        {"paper": "", "direction": TAKEN_BACK},
        {"paper": "", "mass_mg": 12 * KG},
    ],
)
def test_what_is_not_alike_is_not_paired(other: dict[str, Any]) -> None:
    found = match([row(**other)], [line(paper="")])
    assert found.pairs == ()
    assert (len(found.only_theirs), len(found.only_ours)) == (1, 1)


def test_ten_days_apart_still_pairs() -> None:
    assert len(match([row(paper="", on=DAY + timedelta(days=10))], [line(paper="")]).pairs) == 1


def test_a_number_that_stands_twice_names_no_one_delivery() -> None:
    found = match([row(row=2), row(row=3, on=DAY + timedelta(days=90))], [line()])
    assert [(pair.theirs.row, pair.by_paper) for pair in found.pairs] == [(2, False)]
    assert [one.row for one in found.only_theirs] == [3]


DAYS = st.dates(DAY, DAY + timedelta(days=25))
CODES, WAYS, PAPERS = (
    st.sampled_from(["R-134a", "R-12"]),
    st.sampled_from([DELIVERED, TAKEN_BACK]),
    st.sampled_from(["", "A-1", "a 1", "B"]),
)
MASSES = st.integers(1, 12 * KG)
LISTS = st.lists(st.tuples(DAYS, CODES, WAYS, MASSES, PAPERS), max_size=8)


@given(LISTS, LISTS, st.randoms(use_true_random=False))
def test_every_row_and_line_stands_in_the_answer_once_whatever_their_order(rows: Any, lines: Any, dice: Any) -> None:
    theirs = [Theirs(*facts, number) for number, facts in enumerate(rows, start=2)]
    ours = [Ours(*facts, number, 20_000.0) for number, facts in enumerate(lines, start=1)]
    found = match(theirs, ours)
    assert sorted([one.theirs for one in found.pairs] + list(found.only_theirs)) == sorted(theirs)
    assert sorted([one.ours for one in found.pairs] + list(found.only_ours)) == sorted(ours)
    assert sum(one.theirs_mg for one in found.sums) == sum(one.mass_mg for one in theirs)
    assert sum(one.ours_mg for one in found.sums) == sum(one.mass_mg for one in ours)
    dice.shuffle(theirs)
    dice.shuffle(ours)
    assert match(theirs, ours) == found


def test_numbers_of_papers_are_compared_without_what_people_write_differently() -> None:
    assert normal("HG-5521/a ") == normal("hg 5521.A")


# The file


def listed(text: str) -> bytes:
    return b"\xef\xbb\xbf" + text.encode()


def test_a_list_is_read_with_semicolons_units_and_names_that_people_write() -> None:
    found = read_list(listed("Date;Refrigerant;Mass;paper_number;direction\n2025-03-03;r134a;30 lb;X-1;returned\n"))
    assert found == [Theirs(DAY, "R-134a", TAKEN_BACK, 13_607_771, "X-1", 2)]


@pytest.mark.parametrize(
    ("content", "said"),
    [
        (b"\x00\x01", "no CSV text"),
        (b"\xff\xfe\xff", "not UTF-8"),
        (b"date,mass\n2025-03-03,1 kg\n", "lacks refrigerant"),
        (b"date,refrigerant,mass,price\n", "price"),
        (b"date,refrigerant,mass\n", "no rows"),
        (b"date,refrigerant,mass\n3 March,R-134a,1 kg\n", "Line 2: “3 March” is not a day that can be read"),
        (b"date,refrigerant,mass\n2025-03-03,R-999,1 kg\n", "Line 2"),
        (b"date,refrigerant,mass\n2025-03-03,R-134a,11\n", "Line 2"),
        (b"date,refrigerant,mass\n2025-03-03,R-134a,0 kg\n", "more than nothing"),
        (b"date,refrigerant,mass\n2025-03-03,R-134a\n", "Line 2 has 2 cells"),
        (b'date,refrigerant,mass\n2025-03-03,"R-134a,1 kg\n', "cannot be read as CSV"),
        (b"date,refrigerant,mass,direction\n2025-03-03,R-134a,1 kg,sideways\n", "direction is delivered or taken back"),
        (b"date,refrigerant,mass\n" + b"2025-03-03,R-134a,1 kg\n" * 2_001, "more than 2000 rows"),
    ],
)
def test_a_file_that_is_no_list_is_refused_with_the_line_and_why(content: bytes, said: str) -> None:
    with pytest.raises(NotAList) as refused:
        read_list(content)
    assert said in " ".join(refused.value.faults)


@pytest.mark.parametrize(
    ("content", "said"),
    [
        (
            "date,refrigerant,mass,paper_number\n2025-03-03,R-134a,11 kg,DN-1\n2025-03-03,R-134a,11 kg,dn1\n",
            ["Paper DN-1 stands 2 times, in rows 2 and 3: they say the same, so one may be a slip."],
        ),
        (
            "date,refrigerant,mass,paper_number\n2025-03-03,R-134a,11 kg,DN-1\n2025-04-03,R-134a,12 kg,DN-1\n",
            ["Paper DN-1 stands 2 times, in rows 2 and 3: day and mass tell which is meant."],
        ),
        (
            "date,refrigerant,mass\n2025-03-03,R-134a,11 kg\n2025-03-04,R-12,1 kg\nTotal,,12 kg\n",
            ["Line 4 is a total of 12.000 kg and was left out; the rows above it come to the same."],
        ),
        (
            "date,refrigerant,mass\n2025-03-03,R-134a,11 kg\n2025-03-04,R-12,1 kg\nSub-total,R-12,2 kg\n",
            [
                "Line 4 is a total of 2.000 kg and was left out; the rows above it come to 1.000 kg: "
                "a row may be missing, or stand there twice."
            ],
        ),
        (
            "date,refrigerant,mass,paper_number\n2025-03-03,R-134a,11 kg,\nTotals:,,see above\n",
            ["Line 3 is a total that cannot be read; it was left out."],
        ),
    ],
)
def test_what_is_odd_about_a_list_is_said_and_no_row_is_lost(content: str, said: list[str]) -> None:
    sheet = read_sheet(content.encode())
    assert [one.replace("\N{NARROW NO-BREAK SPACE}", " ") for one in sheet.said] == said
    assert len(sheet.rows) == content.count("\n2025-")


@pytest.mark.parametrize(("order", "day"), [("mdy", date(2025, 1, 8)), ("ymd", date(2025, 8, 1))])
def test_days_in_figures_are_read_in_the_order_of_who_matches(order: str, day: date) -> None:
    rows = read_sheet(b"date,refrigerant,mass\n1/8/2025,R-134a,1 kg\n", order).rows
    assert [one.on for one in rows] == [day]


@pytest.mark.parametrize("head", ["mass_lb", "mass (lb)", "mass lb"])
def test_a_column_may_name_the_unit_of_its_masses(head: str) -> None:
    rows = read_list(f"date,refrigerant,{head}\n2025-03-03,R-134a,30\n2025-03-03,R-134a,1 kg\n".encode())
    assert [one.mass_mg for one in rows] == [13_607_771, 1_000_000]


# The page


def send(client: Client, partner: Any, text: str, **changed: str) -> Any:
    file = SimpleUploadedFile("list.csv", text.encode(), "text/csv")
    sent = {"file": file, "first": "2025-01-01", "last": "2025-12-31", **changed}
    return client.post(f"/w/port-ellery/partners/{partner.account.number}/match/", sent)


@pytest.mark.django_db
def test_what_only_the_supplier_knows_of_is_said_first_and_nothing_is_written(
    technician_client: Client,
    workshop: Any,
    partner: Any,
    make_cylinder: Any,
    post: Any,
    clock: Callable[..., Any],
    now: Any,
) -> None:
    bought = make_cylinder("C-34", paper_number="HG-5521")
    at = now - timedelta(days=30)
    post("purchase", partner.account, bought, 10_990_000, at=at, u_random_mg=30_700)
    day = at.date().isoformat()
    text = f"date,refrigerant,mass,paper_number\n{day},R-134a,11 kg,HG5521\n{day},R-134a,12 kg,HG-5600\n"
    year = {"first": f"{at.year}-01-01", "last": f"{at.year}-12-31"}
    before = Entry.objects.count()

    answer = send(technician_client, partner, text, **year)

    page = " ".join(answer.content.decode().replace("\N{NARROW NO-BREAK SPACE}", " ").split())
    assert "1 in both, 1 in theirs alone, 0 in the book alone" in page
    assert "delivered: 12.000 kg R-134a, paper HG-5600, row 3" in page
    assert "within what the reading can tell" in page
    assert "theirs 23.000 kg, the book 10.990 kg" in page
    assert Entry.objects.count() == before


@pytest.mark.django_db
def test_a_wrong_file_is_put_right_beside_its_field(technician_client: Client, workshop: Any, partner: Any) -> None:
    answer = send(technician_client, partner, "date,refrigerant,mass\n2025-03-03,R-134a,eleven\n")
    assert answer.status_code == 422
    assert "Line 2" in answer.content.decode()


@pytest.mark.django_db
def test_a_reader_and_a_stranger_match_nothing(
    reader_client: Client, stranger_client: Client, workshop: Any, partner: Any
) -> None:
    assert send(reader_client, partner, "x").status_code == 403
    assert send(stranger_client, partner, "x").status_code == 404


@pytest.mark.django_db
def test_the_partner_s_page_leads_there(technician_client: Client, workshop: Any, partner: Any) -> None:
    page = technician_client.get(f"/w/port-ellery/partners/{partner.account.number}/").content.decode()
    assert f"/partners/{partner.account.number}/match/" in page


def listed_file(at: Any, mass: str = "11 kg", paper: str = "HG-5521") -> str:
    return f"date,refrigerant,mass,paper_number\n{at.date()},R-134a,{mass},{paper}\n"


def year_of(at: Any) -> dict[str, str]:
    return {"first": f"{at.year}-01-01", "last": f"{at.year}-12-31"}


@pytest.mark.django_db
def test_a_list_that_is_kept_is_kept_once_and_counts_until_it_is_taken_away(
    technician_client: Client, workshop: Any, partner: Any, now: Any
) -> None:
    text, year = listed_file(now), year_of(now)
    for _ in range(2):
        assert "The list is kept" in send(technician_client, partner, text, keep="on", **year).content.decode()
    kept = PartnerList.objects.get()
    assert kept.rows == [[str(now.date()), "R-134a", "delivered", 11_000_000, "HG-5521", 2]]
    assert list(changed.faults(workshop.book)) == []
    home = f"/w/port-ellery/partners/{partner.account.number}/"
    assert "1 row, kept" in technician_client.get(home).content.decode()
    assert technician_client.post(f"{home}lists/{kept.pk}/").status_code == 303
    assert "counts no more" in technician_client.get(home).content.decode()
    send(technician_client, partner, text, keep="on", **year)
    assert PartnerList.objects.filter(withdrawn=False).count() == 1


@pytest.mark.django_db
def test_a_reader_takes_no_list_away(reader_client: Client, stranger_client: Client, partner: Any, now: Any) -> None:
    kept = PartnerList.objects.create(
        partner=partner, first=now.date(), last=now.date(), digest="0" * 64, actor="p-1", kept_at=now
    )
    at = f"/w/port-ellery/partners/{partner.account.number}/lists/{kept.pk}/"
    assert reader_client.post(at).status_code == 403
    assert stranger_client.post(at).status_code == 404
    assert PartnerList.objects.get().withdrawn is False


@pytest.mark.django_db
def test_a_list_of_another_year_is_refused_beside_its_days(
    technician_client: Client, workshop: Any, partner: Any
) -> None:
    answer = send(technician_client, partner, "date,refrigerant,mass\n2024-03-03,R-134a,11 kg\n", keep="on")
    assert answer.status_code == 422
    assert "None of its 1 rows lies in this period: they are of 2024-03-03 to 2024-03-03." in answer.content.decode()
    assert not PartnerList.objects.exists()


@pytest.mark.django_db
def test_what_a_kept_list_says_otherwise_is_a_finding(
    technician_client: Client, workshop: Any, partner: Any, make_cylinder: Any, post: Any, now: Any
) -> None:
    at = now - timedelta(days=40)
    bought = make_cylinder("C-34", paper_number="HG-5521")
    post("purchase", partner.account, bought, 10_500_000, at=at, u_random_mg=30_700)
    text = listed_file(at) + f"{at.date()},R-134a,12 kg,HG-5600\n"
    send(technician_client, partner, text, keep="on", first=f"{at.year - 1}-01-01", last=f"{at.year}-12-31")
    judging.refresh(workshop)
    found = Finding.objects.filter(workshop=workshop, rule__startswith="book-list", state="open")
    assert set(found.values_list("rule", "about")) == {
        ("book-list-only-theirs", f"partner:{partner.account.number}"),
        ("book-list-masses", f"line:{Entry.objects.latest('seq').seq}"),
    }
    page = technician_client.get(f"/w/port-ellery/partners/{partner.account.number}/").content.decode()
    assert "On their list and not in the book" in page


@pytest.mark.django_db
def test_lists_of_a_day_are_read_from_the_newest(partner: Any, now: Any) -> None:
    def keep_one(first: int, last: int, mass_mg: int, minutes: int) -> None:
        PartnerList.objects.create(
            partner=partner,
            first=date(2025, first, 1),
            last=date(2025, last, 28),
            rows=[["2025-02-03", "R-134a", "delivered", mass_mg, "", 2], ["2025-06-03", "R-12", "delivered", 1, "", 3]],
            digest=str(minutes),
            actor="p-1",
            kept_at=now + timedelta(minutes=minutes),
        )

    keep_one(1, 12, 5, 0)
    keep_one(1, 3, 7, 1)
    rows, covered = said_by(PartnerList.objects.all())
    assert [(one.on.month, one.mass_mg) for one in rows] == [(2, 7), (6, 1)]
    assert covered == [(date(2025, 1, 1), date(2025, 3, 28)), (date(2025, 1, 1), date(2025, 12, 28))]
