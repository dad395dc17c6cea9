"""The way of a spreadsheet into the book: sent, its columns matched, its first rows looked at, written, remembered."""

import os
import subprocess
from collections.abc import Callable
from datetime import datetime, timedelta
from io import BytesIO
from pathlib import Path
from types import SimpleNamespace
from typing import Any
from uuid import uuid4

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client
from django.utils import timezone
from openpyxl import Workbook

from inventory.models import Cylinder, Entry, Movement
from shop.importing import jobs
from shop.models import ImportJob, SheetMatching, User
from tests.answers import words

pytestmark = pytest.mark.django_db

ADDRESS = "/w/port-ellery/import/"
SHEET = (
    "Usage log;;;;;;\n"
    "Date;Tag #;Refrigerant;Cylinder;Charged (g);Recovered (g);Tech\n"
    "4/3/2025;AB 1;R134a;T-1;500,5;400;Ann\n"
    "5/3/2025;AB 2;R134a;T-1;0,6 kg;;Ben\n"
    "Total;;;;1100,5;400;\n"
)


@pytest.fixture(autouse=True)
def started(monkeypatch: pytest.MonkeyPatch, settings: Any, tmp_path: Path) -> None:
    """Start no process: it would work on another database than the test's."""
    settings.MEDIA_ROOT = tmp_path
    monkeypatch.setattr(subprocess, "Popen", lambda command, **_: SimpleNamespace(pid=os.getpid()))


@pytest.fixture
def send(owner_client: Client) -> Callable[..., Any]:
    def send(content: bytes | str = SHEET, name: str = "log.csv", key: str | None = None) -> Any:
        data = content.encode("cp1252") if isinstance(content, str) else content
        return owner_client.post(ADDRESS, {"key": key or str(uuid4()), "file": SimpleUploadedFile(name, data)})

    return send


@pytest.fixture
def choose(owner_client: Client) -> Callable[..., Any]:
    """Send the page of matching as it stands, but for what is chosen otherwise."""

    def choose(address: str, press: str = "look", **other: str) -> Any:
        form = owner_client.get(address).context["form"]
        data = {bound.html_name: bound.value() for bound in form if bound.value() not in (None, False, "")}
        return owner_client.post(address, {**data, **other, "press": press})

    return choose


@pytest.fixture
def bring(send: Any, choose: Any, owner_client: Client) -> Callable[..., Any]:
    """Bring a sheet with all that it means as it was guessed, but for what is chosen otherwise; return its page."""

    def bring(content: bytes | str = SHEET, name: str = "log.csv", **other: str) -> str:
        address = send(content, name)["Location"]
        choose(address, **other)
        assert choose(address, "write")["Location"] == address.removesuffix("match/")
        jobs.work(ImportJob.objects.latest("pk"))
        return words(owner_client.get(address.removesuffix("match/")))

    return bring


def workbook(*rows: list[Any], merge: str = "") -> bytes:
    book = Workbook()
    sheet = book.active
    assert sheet is not None
    for row in rows:
        sheet.append(row)
    if merge:
        sheet.merge_cells(merge)
    file = BytesIO()
    book.save(file)
    return file.getvalue()


def test_a_sheet_leads_to_its_matching_with_what_was_guessed(send: Any, owner_client: Client) -> None:
    address = send()["Location"]
    assert address.endswith("/match/")
    form = owner_client.get(address).context["form"]
    assert [form[f"c{place}"].value() for place in range(7)] == [
        *("day", "vehicle", "refrigerant", "cylinder", "charged", "recovered", "person"),
    ]
    assert (form["head"].value(), form["u4"].value(), form["mark"].value()) == (2, "g", ",")
    assert not Entry.objects.exists()


def test_the_first_rows_are_shown_as_they_would_be_written(send: Any, choose: Any, owner_client: Client) -> None:
    address = send()["Location"]
    assert choose(address)["Location"] == address
    page = words(owner_client.get(address))
    assert "3 rows looked at, all there are: 3 movements, 0 things to put right, 1 row left out" in page
    assert "T-1 to AB 1" in page
    assert owner_client.get(address).context["seen"].lines[2].mass == "600\N{NARROW NO-BREAK SPACE}g"
    assert "Row 4, Charged (g): “0,6 kg” names kg in a column of g; taken as it is written." in page
    assert "Row 5: it says that it is a total" in page
    assert not Entry.objects.exists()


def test_the_whole_is_written_with_the_stock_that_it_needs(bring: Any) -> None:
    page = bring()
    assert "3 movements read, 4 lines written" in page
    masses = {(one.cause, one.mass_mg) for one in Movement.objects.all()}
    assert masses == {("charge", 500_500), ("charge", 600_000), ("recovery", 400_000), ("opening-stock", 1_100_500)}
    assert {one.serial for one in Cylinder.objects.all()} == {"T-1", "Recovery R-134a"}
    assert "Opening stock that was reckoned" in page
    assert list(jobs.folder().iterdir()) == []


def test_the_same_sheet_again_and_a_longer_one_add_what_is_new(bring: Any) -> None:
    bring()
    assert "0 lines written; all of them were there already" in bring()
    longer = SHEET.replace("Total", "6/3/2025;AB 3;R134a;T-1;100;;Ann\n6/3/2025;AB 3;R134a;T-1;100;;Ann\nTotal")
    bring(longer)
    assert Movement.objects.filter(cause="charge").count() == 4
    assert sum(one.mass_mg for one in Movement.objects.filter(cause="opening-stock")) == 1_300_500


def test_the_same_rows_matched_otherwise_are_refused_and_not_written_twice(bring: Any) -> None:
    bring()
    page = bring(u4="oz")
    assert "with other figures" in page
    assert Movement.objects.filter(cause="charge").count() == 2


def test_what_was_matched_is_kept_for_the_next_sheet_with_these_headers(
    send: Any, choose: Any, owner_client: Client
) -> None:
    choose(send()["Location"], c6="note", person="Cara", c3="from_cylinder")
    assert SheetMatching.objects.count() == 1
    form = owner_client.get(send(SHEET.replace("AB 1", "ZZ 9"))["Location"]).context["form"]
    assert [form[name].value() for name in ("c6", "person", "c3")] == ["note", "Cara", "from_cylinder"]


@pytest.mark.parametrize(
    ("other", "sentence"),
    [
        ({"c0": ""}, "No column is the day"),
        ({"c1": ""}, "No column is the vehicle"),
        ({"c4": "", "c5": ""}, "No column is an amount"),
        ({"c4": "", "c5": "amount"}, "An amount alone does not say what was done"),
        ({"c2": "vehicle"}, "“Tag #” and “Refrigerant” are both taken as vehicle"),
        ({"refrigerant": "R-999"}, "is not in the catalogue"),
    ],
)
def test_a_matching_that_cannot_be_is_a_sentence_and_stays(send: Any, choose: Any, other: Any, sentence: str) -> None:
    answer = choose(send()["Location"], **other)
    assert answer.status_code == 422
    assert sentence in words(answer)
    for name, value in other.items():
        assert answer.context["form"][name].value() == value


BAD = (
    "Date;Plate;Gas;Cylinder;Charged g;Tech\n"
    "31/2/2025;A;R134a;T;5;Ann\n"
    "1/3/2025;;R134a;T;5;Ann\n"
    "1/3/2025;A;R-999;T;5;Ann\n"
    "1/3/2025;A;R134a;T;5;\n"
    ";A;R134a;T;5;Ann\n"
    "1/3/2025;A;R134a;T;-5;Ann\n"
    "1/3/2025;A;R134a;T;1.5;Ann\n"
    "1/3/2025;A;R134a;T;5 litres;Ann\n"
    "1/3/2999;A;R134a;T;5;Ann\n"
    "2/3/2025;A;R134a;T;5;Ann\n"
)
SENTENCES = (
    (2, "Date", "no day: February 2025 has 28 days"),
    (3, "Plate", "no vehicle is named"),
    (4, "Gas", "not in the catalogue"),
    (5, "Tech", "Nobody is named"),
    (6, "Date", "The day is empty"),
    (7, "Charged g", "below zero"),
    (8, "Charged g", "the decimal mark of this sheet is a comma"),
    (9, "Charged g", "for the amount write a mass"),
    (10, "occurred_at", "has not come yet"),
)


def test_every_bad_row_is_listed_with_its_column_and_nothing_is_written(bring: Any, owner_client: Client) -> None:
    page = bring(BAD)
    assert "Stopped. 9 lines cannot be taken." in page
    faults = ImportJob.objects.get().faults
    assert [
        (row, words.startswith(f"{column}: "), sentence in words)
        for (row, words), (_, column, sentence) in zip(faults, SENTENCES, strict=True)
    ] == [(row, True, True) for row, *_ in SENTENCES]
    assert not Entry.objects.exists()
    assert not Cylinder.objects.exists()


def test_the_others_can_be_written_without_the_bad_rows(bring: Any, owner_client: Client) -> None:
    bring(BAD.replace("1/3/2999", "31/2/2999"))
    job = ImportJob.objects.get()
    owner_client.post(f"{ADDRESS}{job.pk}/rest/")
    jobs.work(ImportJob.objects.get())
    page = words(owner_client.get(f"{ADDRESS}{job.pk}/"))
    assert "1 movement read, 2 lines written" in page
    assert "9 rows of the sheet left out" in page
    assert "Row 4: Gas:" in page


def test_after_a_stop_the_matching_is_changed_and_goes_on(bring: Any, choose: Any, owner_client: Client) -> None:
    sheet = "Date,Plate,Gas,Cylinder,Charged g\n3/14/2025,A,R134a,T,5\n3/15/2025,B,R134a,T,5\n"
    assert "would have a month 14" in bring(sheet, order="dmy")
    address = f"{ADDRESS}{ImportJob.objects.get().pk}/"
    assert "Change what the columns mean" in words(owner_client.get(address))
    choose(f"{address}match/", order="mdy")
    choose(f"{address}match/", "write")
    jobs.work(ImportJob.objects.get())
    assert "2 movements read, 3 lines written" in words(owner_client.get(address))


def test_a_workbook_with_merged_cells_formulas_and_real_days(bring: Any) -> None:
    content = workbook(
        ["Usage 2025"],
        ["Day", "Plate", "Refrigerant", "Cylinder", "Charged", "Unit", "Tech"],
        [datetime.fromisoformat("2025-03-04T15:30"), "AB 1", "R-134a", "T-1", 18.5, "oz", "Ann"],
        [None, "AB 2", "R-134a", "T-1", 0.6, "kg", "Ann"],
        [datetime.fromisoformat("2025-03-05"), "AB 3", "R-134a", "T-1", "=E3*2", "oz", "Ann"],
        ["Total", None, None, None, "=SUM(E3:E5)"],
        merge="A3:A4",
    )
    page = bring(content, "log.xlsx")
    assert "One line cannot be taken" in page, ImportJob.objects.get().faults
    assert [(row, words[:30]) for row, words in ImportJob.objects.get().faults] == [
        (5, "Charged: It is a formula that ")
    ]
    job = ImportJob.objects.get()
    job.matching["leave_out"] = True
    job.state = ImportJob.WAITING
    job.save()
    jobs.work(job)
    charged = Movement.objects.filter(cause="charge").select_related("entry").order_by("mass_mg")
    assert [(one.mass_mg, f"{one.entry.occurred_at:%m-%d}") for one in charged] == [
        (524_466, "03-04"),
        (600_000, "03-04"),
    ]


@pytest.mark.parametrize(
    ("content", "name", "sentence"),
    [
        (b"\xd0\xcf\x11\xe0" + bytes(60), "old.xls", "older workbook (.xls), or one that a password locks"),
        (b"PK\x03\x04 cut short", "x.xlsx", "cut short or is damaged"),
        (b"a\x00b", "x.bin", "no CSV text and no workbook"),
    ],
)
def test_what_is_no_sheet_is_refused_beside_the_field(send: Any, content: bytes, name: str, sentence: str) -> None:
    answer = send(content, name)
    assert answer.status_code == 422
    assert sentence in words(answer)
    assert not ImportJob.objects.exists()
    assert list(jobs.folder().iterdir()) == []


def test_a_machines_tank_holds_recycled_gas(bring: Any) -> None:
    page = bring(
        "Date,Plate,Gas,Cylinder,Charged g,Recovered g,Tech\n"
        "1/3/2025,A,R134a,M-1,,400,Ann\n1/3/2025,A,R134a,M-1,450,,Ann\n"
    )
    assert "their gas for recycled: M-1" in page
    assert set(Movement.objects.values_list("grade", flat=True)) == {"recycled"}


def test_amounts_by_what_another_column_says(bring: Any) -> None:
    bring(
        "Date,What was done,Qty,Unit,Gas,Cylinder,Plate,Supplier,Tech\n"
        "1/2/2025,Purchase,30,lb,R134a,N-1,,Gasco,Ann\n"
        "2/2/2025,Charge,20,oz,R134a,N-1,AB 1,,Ann\n"
        "3/2/2025,Recovery,10,oz,R134a,R-1,AB 1,,Ann\n"
        "4/2/2025,Sent away,5,oz,R134a,R-1,,Reclaim Ltd,Ann\n"
    )
    assert set(Movement.objects.values_list("cause", "mass_mg", "grade")) == {
        ("purchase", 13_607_771, "virgin"),
        ("charge", 566_990, "virgin"),
        ("recovery", 283_495, "recovered"),
        ("sent-away", 141_748, "recovered"),
    }


def test_a_sheet_that_nobody_went_on_with_is_removed_after_a_week(send: Any, owner_client: Client) -> None:
    address = send()["Location"]
    ImportJob.objects.update(started_at=timezone.now() - timedelta(days=8))
    owner_client.get(ADDRESS)
    assert list(jobs.folder().iterdir()) == []
    assert "was not begun for a week" in words(owner_client.get(address, follow=True))


def test_the_headers_may_stand_in_another_row(send: Any, choose: Any, owner_client: Client) -> None:
    address = send(SHEET)["Location"]
    choose(address, "head", head="3")
    form = owner_client.get(address).context["form"]
    assert form["head"].value() == 3
    assert "4/3/2025" in [column.header for column in form.columns]


def test_a_double_press_is_one_sheet(send: Any) -> None:
    key = str(uuid4())
    assert send(key=key)["Location"] == send(key=key)["Location"]
    assert ImportJob.objects.count() == 1


def test_only_the_owner_may(send: Any, technician_client: Client, stranger_client: Client) -> None:
    address = send()["Location"]
    assert [one.get(address).status_code for one in (technician_client, stranger_client)] == [403, 404]


def test_a_name_is_matched_with_who_has_it_and_the_owner_decides(
    send: Any, choose: Any, owner_client: Client, owner: Any, technician: Any, make_user: Any, workshop: Any
) -> None:
    ray = make_user("ray", workshop, "technician")
    User.objects.filter(pk=ray.pk).update(display_name="Ray")
    sheet = "Date;Plate;Gas;Cylinder;Charged g;Tech\n" + "".join(
        f"{day}/3/2025;A{day};R134a;T;500;{name}\n" for day, name in enumerate((" RAY", "Ray", "Tomas", "Ben", "Cy"), 1)
    )
    address = send(sheet)["Location"]
    who = {one.label: (one.html_name, one.value()) for one in owner_client.get(address).context["form"].who}
    assert {name: said for name, (_, said) in who.items()} == {
        "RAY": ray.handle,
        "Ray": ray.handle,
        "Tomas": technician.handle,  # his first name
        "Ben": "new",
        "Cy": "new",
    }
    before = User.objects.count()
    choose(address, **{who["Ben"][0]: owner.handle})
    choose(address, "write", **{who["Ben"][0]: owner.handle, who["Cy"][0]: "gone"})
    jobs.work(ImportJob.objects.get())
    assert ImportJob.objects.get().state == ImportJob.DONE
    assert User.objects.count() == before + 1
    cy = User.objects.get(display_name="Cy")
    assert not cy.memberships.get().active
    by_day = Entry.objects.filter(context="import").exclude(movements__cause="opening-stock").order_by("occurred_at")
    assert [one.actor for one in by_day] == [
        ray.handle,
        ray.handle,
        technician.handle,
        owner.handle,
        cy.handle,
    ]
    again = owner_client.get(send(sheet + "9/3/2025;A9;R134a;T;500;Cy\n")["Location"]).context["form"]
    assert {one.label: one.value() for one in again.who}["Cy"] == cy.handle  # not a third person


def test_who_is_new_works_here_and_does_not_sign_in(bring: Any) -> None:
    bring(SHEET)
    for name in ("Ann", "Ben"):
        person = User.objects.get(display_name=name)
        assert person.memberships.get().active
        assert not person.has_usable_password()
        assert not person.is_active


def test_while_rows_cannot_be_read_the_whole_is_not_offered_but_the_others_with_their_count(
    send: Any, choose: Any, owner_client: Client
) -> None:
    address = send(BAD)["Location"]
    choose(address)
    page = owner_client.get(address)
    assert "Write the whole file" not in words(page)
    assert f"leave out what cannot be read: of {page.context['seen'].faulty_rows} rows" in words(page)
    assert choose(address, "rest")["Location"] == address.removesuffix("match/")
    jobs.work(ImportJob.objects.get())
    job = ImportJob.objects.get()
    assert (job.state, job.lines_total) == (ImportJob.DONE, 1)  # the day to come is left out too
    done = words(owner_client.get(address.removesuffix("match/")))
    assert "9 rows of the sheet left out" in done
    listed = owner_client.get(f"{ADDRESS}{job.pk}/list/")
    assert "attachment" in listed["Content-Disposition"]
    rows = listed.content.decode().splitlines()
    assert rows[0] == "row,column,why"
    assert len({row.partition(",")[0] for row in rows[1:]}) == 9
    assert any(row.startswith("2,Date,") for row in rows)


def test_of_a_longer_file_all_that_is_to_put_right_is_listed_before_anything_is_written(
    send: Any, choose: Any, owner_client: Client
) -> None:
    good = "".join(f"1/3/2025;A{number};R134a;T;5;Ann\n" for number in range(400))
    address = send(BAD + good)["Location"]
    choose(address)
    assert "Write the whole file" not in words(owner_client.get(address))
    choose(address, "write")
    jobs.work(ImportJob.objects.get())
    job = ImportJob.objects.get()
    assert (job.state, Entry.objects.count()) == (ImportJob.STOPPED, 0)
    page = words(owner_client.get(address.removesuffix("match/")))
    assert "9 rows cannot be read as they stand, and what they hold is left out" in page
    assert len(owner_client.get(f"{ADDRESS}{job.pk}/list/").content.splitlines()) == job.fault_count + 1


def test_the_list_of_rows_is_the_owners(send: Any, technician_client: Client) -> None:
    send(BAD)
    assert technician_client.get(f"{ADDRESS}{ImportJob.objects.get().pk}/list/").status_code == 403
