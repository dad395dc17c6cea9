"""Import of a year kept elsewhere: all or nothing, every fault named, twice adds nothing."""

import random
from collections import Counter
from collections.abc import Callable
from datetime import date, timedelta
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

import pytest
from django.core.management import CommandError, call_command

from inventory.causes import CAUSES, SINGLE_KINDS
from inventory.models import Book, Cylinder, Entry, Holding, Movement, Partner
from shop.importing.read import NotImported
from shop.importing.write import import_file
from shop.models import User, Vehicle, Workshop

pytestmark = pytest.mark.django_db

HEADER = "occurred_at,cause,refrigerant,grade,from_kind,from_name,to_kind,to_name,mass,person,note,key,basis"
YEAR = (
    "2024-01-01,opening-stock,R-134a,virgin,opening,,cylinder,A1,10 kg,Ann,,,",
    "2024-02-01,purchase,R-134a,virgin,partner,Gasco,cylinder,A2,20.5 lb,Ann,invoice 7,k-1,single",
    "2024-02-03T10:00,charge,r134a,virgin,cylinder,A1,vehicle,CAR 1,0.9 lb,Bob,,,",
    "2024-02-04T10:00:30,recovery,R-134a,recovered,vehicle,CAR 1,cylinder,R1,400 g,Bob,,,",
    "2024-02-05,regrade,R-134a,recovered,cylinder,R1,process,,400 g,Bob,,,",
    "2024-02-05,regrade,R-134a,recycled,process,,cylinder,R1,400 g,Bob,,,",
    "2024-02-06,purge,R-134a,recycled,cylinder,R1,air,,6 g,Bob,,,",
)


@pytest.fixture
def bring(tmp_path: Path, workshop: Workshop) -> Callable[..., Any]:
    def bring(*rows: str, header: str = HEADER) -> Any:
        path = tmp_path / "year.csv"
        path.write_text("\n".join((header, *rows)) + "\n", encoding="utf-8")
        return import_file(path, ZoneInfo("Etc/GMT-2"), lambda: workshop)

    return bring


def faults(bring: Callable[..., Any], *rows: str, **more: str) -> list[tuple[int, str]]:
    with pytest.raises(NotImported) as caught:
        bring(*rows, **more)
    return [tuple(fault) for fault in caught.value.faults]


def test_a_year_is_written_with_what_it_names(bring: Any, workshop: Workshop) -> None:
    result = bring(*YEAR)
    assert (result.rows, result.entries_new, result.entries_known) == (7, 6, 0)
    held = {(h.account.label, h.refrigerant, h.grade): h.mass_mg for h in Holding.objects.exclude(mass_mg=0)}
    assert held["A1", "R-134a", "virgin"] == 10_000_000 - 408_233  # 0.9 lb, to the nearest milligram
    assert held["A2", "R-134a", "virgin"] == 9_298_644  # 20.5 lb of 453,592.37 mg
    assert held["R1", "R-134a", "recycled"] == 394_000
    assert held["CAR 1", "R-134a", ""] == 8_233
    assert Cylinder.objects.get(serial="R1").kind == "recovery"
    assert Vehicle.objects.get().registration == "CAR 1"
    assert Partner.objects.get().kind == "supplier"
    assert {u.display_name for u in User.objects.filter(is_active=False)} == {"Ann", "Bob"}
    bought = Movement.objects.get(cause="purchase")
    assert (bought.basis, bought.entry.remarks.get().text) == ("single", "invoice 7")
    assert Movement.objects.get(cause="charge").basis == "paper"


def test_a_bare_time_is_the_books_own(bring: Any) -> None:
    bring(YEAR[0], "2025-01-01T00:30,charge,R-134a,virgin,cylinder,A1,vehicle,V,1 g,Ann,,,")
    assert Entry.objects.get(movements__cause="charge").booked_on == date(2025, 1, 1)


def test_twice_adds_nothing(bring: Any) -> None:
    bring(*YEAR)
    result = bring(*YEAR)
    assert (result.entries_new, result.entries_known) == (0, 6)
    assert Entry.objects.count() == 6


def test_further_rows_below_are_added(bring: Any) -> None:
    bring(*YEAR)
    result = bring(*YEAR, "2024-03-01,purge,R-134a,recycled,cylinder,R1,air,,1 g,Bob,,,")
    assert (result.entries_new, result.entries_known) == (1, 6)


def test_rows_may_stand_in_any_order_and_columns_too(bring: Any) -> None:
    header = ",".join(reversed(HEADER.split(",")))
    assert bring(*(",".join(reversed(row.split(","))) for row in reversed(YEAR[:4])), header=header).entries_new == 4


def test_a_semicolon_file_with_comma_decimals_is_read(bring: Any) -> None:
    rows = (row.replace(",", ";") for row in (YEAR[0], YEAR[2].replace("0.9 lb", "0.9 lb")))
    bring(
        *rows, "2024-02-07;charge;R-134a;virgin;cylinder;A1;vehicle;B;0,41 kg;Ann;;;", header=HEADER.replace(",", ";")
    )
    assert Movement.objects.get(mass_mg=410_000).cause == "charge"


@pytest.mark.parametrize(
    ("row", "words"),
    [
        ("2024-13-01,charge,R-134a,virgin,cylinder,A1,vehicle,V,1 g,Ann,,,", "occurred_at: '2024-13-01' is not a date"),
        ("2999-01-01,charge,R-134a,virgin,cylinder,A1,vehicle,V,1 g,Ann,,,", "has not come yet"),
        ("2024-03-01,sold,R-134a,virgin,cylinder,A1,vehicle,V,1 g,Ann,,,", "cause: 'sold' is not a cause"),
        ("2024-03-01,charge,R-999,virgin,cylinder,A1,vehicle,V,1 g,Ann,,,", "refrigerant: "),
        ("2024-03-01,charge,R-134a,used,cylinder,A1,vehicle,V,1 g,Ann,,,", "grade: 'used' is not a grade"),
        ("2024-03-01,charge,R-134a,virgin,bottle,A1,vehicle,V,1 g,Ann,,,", "from_kind: 'bottle' is not a kind"),
        ("2024-03-01,charge,R-134a,virgin,cylinder,,vehicle,V,1 g,Ann,,,", "from_name: The cylinder has no name"),
        ("2024-03-01,charge,R-134a,virgin,cylinder,A1,air,,1 g,Ann,,,", "does not run from cylinder to air"),
        ('2024-03-01,charge,R-134a,virgin,cylinder,A1,vehicle,V,"1,234 kg",Ann,,,', "mass: "),
        ("2024-03-01,charge,R-134a,virgin,cylinder,A1,vehicle,V,12,Ann,,,", "mass: "),
        ("2024-03-01,charge,R-134a,virgin,cylinder,A1,vehicle,V,-3 g,Ann,,,", "mass: "),
        ("2024-03-01,charge,R-134a,virgin,cylinder,A1,vehicle,V,0 g,Ann,,,", "mass: "),
        ("2024-03-01,charge,R-134a,virgin,cylinder,A1,vehicle,V,1 g,,,,", "person: nobody is named"),
        ("2024-03-01,charge,R-134a,virgin,cylinder,A1,vehicle,V,1 g,Ann,,,guess", "basis: 'guess' is not a basis"),
        ("2024-03-01,charge,R-134a,virgin,cylinder,A1,vehicle,V,11 kg,Ann,,,", "cannot leave it"),
        ("2024-03-01,purchase,R-12,virgin,partner,G,cylinder,A1,1 g,Ann,,,", "would be mixed into it"),
        ("2024-03-01,regrade,R-134a,virgin,cylinder,A1,process,,1 g,Ann,,,", "does not come out of it"),
        ("2024-03-01,charge,R-134a,virgin,cylinder,A1", "It has 6 cells; the header names 13"),
    ],
)
def test_a_bad_row_is_named_and_nothing_is_written(bring: Any, row: str, words: str) -> None:
    found = faults(bring, YEAR[0], row)
    assert [line for line, _ in found] == [3]
    assert words in found[0][1]
    assert (Entry.objects.count(), Cylinder.objects.count(), Vehicle.objects.count()) == (0, 0, 0)


def test_every_fault_is_listed(bring: Any) -> None:
    bad = "yesterday,charge,R-134a,used,cylinder,A1,vehicle,V,12,,,,"
    assert len(faults(bring, YEAR[0], bad, bad)) == 8


def test_a_key_stands_for_one_entry(bring: Any) -> None:
    row = "2024-03-0{},charge,R-134a,virgin,cylinder,A1,vehicle,V,1 g,Ann,,mine,"
    other = "2024-03-02,charge,R-134a,virgin,cylinder,A1,vehicle,W,1 g,Ann,,,"
    assert "do not follow each other in time" in faults(bring, YEAR[0], row.format(1), other, row.format(3))[0][1]
    bring(YEAR[0], row.format(1))
    assert "with other figures" in faults(bring, YEAR[0], row.format(4))[0][1]


@pytest.mark.parametrize(
    ("header", "words"),
    [
        (HEADER.replace(",mass", ""), "The header lacks mass"),
        (HEADER + ",colour", "names colour, which this import does not know"),
        (HEADER + ",note", "names a column twice"),
    ],
)
def test_a_wrong_header_is_the_one_fault(bring: Any, header: str, words: str) -> None:
    found = faults(bring, *YEAR, header=header)
    assert [(line, words in reason) for line, reason in found] == [(1, True)]


def test_a_file_that_is_no_text_is_refused(tmp_path: Path, workshop: Workshop) -> None:
    path = tmp_path / "x.csv"
    path.write_bytes(b"\xff\xfe\x00\x01")
    with pytest.raises(NotImported, match="One line"):
        import_file(path, ZoneInfo("UTC"), lambda: workshop)


@pytest.mark.parametrize("cause", sorted(CAUSES))
def test_every_cause_can_be_brought_on_paper(bring: Any, cause: str) -> None:
    rows = []
    for number, (source, target) in enumerate(sorted(CAUSES[cause].routes, key=lambda route: route[1] != "process")):
        names = [kind if kind in SINGLE_KINDS else f"{kind} x" for kind in (source, target)]
        names[0] = "rig y" if source == "rig" else names[0]
        names[1] = "cylinder z" if source == target else names[1]
        stock = f"2024-03-01T0{number}:00"
        if source == "cylinder":
            rows.append(f"{stock},opening-stock,R-134a,virgin,opening,,cylinder,{names[0]},9 kg,Ann,,,")
        if source == "rig":
            rows.append(f"{stock},opening-stock,R-134a,virgin,opening,,cylinder,{names[0]} s,9 kg,Ann,,,")
            rows.append(f"{stock}:10,rig-filled,R-134a,virgin,cylinder,{names[0]} s,rig,{names[0]},9 kg,Ann,,,")
        moment = "2024-03-01T12:00" if "process" in (source, target) else f"{stock}:20"
        kind_names = [
            name if kind not in SINGLE_KINDS else "" for kind, name in zip((source, target), names, strict=True)
        ]
        rows.append(f"{moment},{cause},R-134a,virgin,{source},{kind_names[0]},{target},{kind_names[1]},1 kg,Ann,,,")
    bring(*rows)
    assert Movement.objects.filter(cause=cause, basis="paper").exists()


def test_good_files_agree_with_a_plain_counter(bring: Any) -> None:
    chance = random.Random(20250)
    held: Counter[str] = Counter()
    rows = []
    for number in range(400):
        day = date(2024, 1, 1) + timedelta(days=number // 2)
        moment = f"{day}T{8 + number % 2:02d}:00"
        name, grams = f"C{chance.randrange(5)}", chance.randrange(1, 900)
        if held[name] >= grams and chance.random() < 0.6:
            held[name] -= grams
            rows.append(f"{moment},charge,R-134a,virgin,cylinder,{name},vehicle,V{number % 9},{grams} g,Ann,,,")
        else:
            held[name] += grams
            rows.append(f"{moment},purchase,R-134a,virgin,partner,Gasco,cylinder,{name},{grams} g,Ann,,,")
    chance.shuffle(rows)
    bring(*rows)
    stock = Holding.objects.filter(stock=True, mass_mg__gt=0)
    assert {h.account.label: h.mass_mg for h in stock} == {n: g * 1000 for n, g in held.items() if g}


def test_the_command_makes_a_book_only_with_its_rows(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = tmp_path / "year.csv"
    path.write_text("\n".join((HEADER, YEAR[0], "x,y")) + "\n")
    with pytest.raises(CommandError, match="There is no book Elsewhere"):
        call_command("import_book", str(path), book="Elsewhere")
    with pytest.raises(CommandError, match="Nothing was written"):
        call_command("import_book", str(path), "--create", book="Elsewhere")
    assert "line 3: It has 2 cells" in capsys.readouterr().err
    assert not Book.objects.filter(name="Elsewhere").exists()
    path.write_text("\n".join((HEADER, *YEAR)) + "\n")
    call_command("import_book", str(path), "--create", book="Elsewhere")
    assert "6 lines written" in capsys.readouterr().out
    assert Workshop.objects.get(name="Elsewhere").book.head_seq == 6
