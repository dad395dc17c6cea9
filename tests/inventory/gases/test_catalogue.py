"""The catalogue of refrigerants: its rows, its laws, what it answers to what people type."""

import csv
from decimal import Decimal
from pathlib import Path
from string import ascii_letters

import pytest
from hypothesis import given
from hypothesis import strategies as st

from inventory.gases import catalogue
from inventory.gases.catalogue import MIXED, UnknownRefrigerant, find, refrigerant, refrigerants
from inventory.gases.potentials import (
    FORMER_GWP_BASES,
    GWP_BASES,
    ODP_BASES,
    NoFigure,
    co2e_mg,
    gwp,
    mixture_gwp,
    odp,
)

DATA = Path(catalogue.__file__).parent / "data"
TABLES = {
    "refrigerants.csv": "class_source",
    "compositions.csv": "source",
    "gwp.csv": "source",
    "odp.csv": "source",
}
CODES = [each.code for each in refrigerants()]

EXPECTED = """
    R-11 R-12 R-13I1 R-22 R-32 R-115 R-123 R-124 R-125 R-134a R-142b R-143a R-152a R-218 R-227ea R-290 R-401A
    R-401B R-402A R-402B R-404A R-406A R-407A R-407B R-407C R-407F R-408A R-409A R-409B R-410A R-413A R-414A
    R-414B R-416A R-417A R-420A R-421A R-421B R-422A R-422D R-426A R-427A R-434A R-437A R-438A R-444A R-445A
    R-448A R-449A R-450A R-452A R-454A R-454B R-454C R-455A R-456A R-466A R-500 R-502 R-507A R-513A R-515B
    R-600 R-600a R-601 R-601a R-717 R-744 R-1233zd(E) R-1234yf R-1234ze(E) R-1270 R-1336mzz(Z)
"""

codes = st.sampled_from(CODES)


def rows(table: str) -> list[dict[str, str]]:
    with (DATA / table).open(encoding="utf-8", newline="") as lines:
        return list(csv.DictReader(lines))


@pytest.mark.parametrize(("table", "source"), TABLES.items())
def test_every_row_has_a_source(table: str, source: str) -> None:
    assert rows(table)
    assert [row for row in rows(table) if not row[source].strip()] == []


@pytest.mark.parametrize(("table", "source"), TABLES.items())
def test_a_row_is_marked_as_from_memory_exactly_where_its_source_says_so(table: str, source: str) -> None:
    said = {True: "true", False: "false"}
    assert [row for row in rows(table) if row["from_memory"] != said["from memory" in row[source]]] == []


@pytest.mark.parametrize(
    ("table", "key"),
    [
        ("refrigerants.csv", ("code",)),
        ("compositions.csv", ("code", "component")),
        ("gwp.csv", ("code", "basis")),
        ("odp.csv", ("code", "basis")),
    ],
)
def test_no_fact_stands_twice(table: str, key: tuple[str, ...]) -> None:
    keys = [tuple(row[name] for name in key) for row in rows(table)]
    assert len(keys) == len(set(keys))


def test_the_parts_of_every_refrigerant_add_up_to_the_whole() -> None:
    assert {each.code: sum(share for _, share in each.components) for each in refrigerants()} == dict.fromkeys(CODES, 1)


def test_every_part_of_a_blend_is_a_pure_refrigerant_of_the_catalogue() -> None:
    pure = {each.code for each in refrigerants() if not each.is_blend}
    assert {part for each in refrigerants() for part, _ in each.components} == pure


def test_a_composition_row_belongs_to_a_blend_and_to_nothing_else() -> None:
    assert {row["code"] for row in rows("compositions.csv")} == {
        row["code"] for row in rows("refrigerants.csv") if row["kind"] == "blend" and row["family"] == "blend"
    }


def test_figures_stand_under_codes_and_bases_that_exist() -> None:
    pure = {each.code for each in refrigerants() if not each.is_blend}
    assert {row["code"] for row in rows("gwp.csv")} <= pure | {"unlisted"}
    assert {row["basis"] for row in rows("gwp.csv")} == {*GWP_BASES, *FORMER_GWP_BASES}
    assert {row["code"] for row in rows("odp.csv")} == {
        each.code for each in refrigerants() if each.family in {"CFC", "HCFC"}
    }
    assert {row["basis"] for row in rows("odp.csv")} == set(ODP_BASES)


def test_the_workshop_meets_all_refrigerants_that_it_can_expect() -> None:
    assert set(EXPECTED.split()) <= set(CODES)


def test_refrigerants_stand_in_the_order_of_their_numbers() -> None:
    assert [code for code in CODES if code in {"R-12", "R-22", "R-134a", "R-404A", "R-1234yf", "R-E170"}] == [
        "R-12",
        "R-22",
        "R-134a",
        "R-404A",
        "R-1234yf",
        "R-E170",
    ]


@given(codes)
def test_a_code_finds_its_own_entry(code: str) -> None:
    assert refrigerant(code).code == code


@pytest.mark.parametrize("code", ["r-134a", "R134a", "HFC-134a", "", "mixed", "air"])
def test_a_code_that_is_not_written_exactly_is_refused(code: str) -> None:
    with pytest.raises(UnknownRefrigerant, match="is not a code of the catalogue"):
        refrigerant(code)


def test_a_pure_refrigerant_is_its_own_only_part() -> None:
    assert refrigerant("R-134a").components == (("R-134a", Decimal(1)),)
    assert refrigerant("R-134a").name == "HFC-134a"
    assert not refrigerant("R-134a").is_blend
    assert refrigerant("R-404A").is_blend


@pytest.mark.parametrize(
    ("code", "flammable"),
    [("R-134a", False), ("R-123", False), ("R-1234yf", True), ("R-152a", True), ("R-290", True), ("R-717", True)],
)
def test_classes_2l_2_and_3_are_flammable(code: str, flammable: bool) -> None:
    assert refrigerant(code).flammable is flammable


@pytest.mark.parametrize(
    ("code", "contains"),
    [("R-12", True), ("R-22", True), ("R-401A", True), ("R-500", True), ("R-134a", False), ("R-404A", False)],
)
def test_a_blend_with_one_controlled_part_holds_ozone_depleting_substance(code: str, contains: bool) -> None:
    assert refrigerant(code).contains_ods is contains


def test_a_composition_from_memory_marks_the_figures_of_its_blend() -> None:
    assert refrigerant("R-515B").composition_from_memory
    assert gwp("R-515B", "EU").from_memory
    assert not gwp("R-513A", "EU").from_memory


def test_a_mixed_content_is_treated_as_flammable_and_has_no_parts() -> None:
    mixed = refrigerant(MIXED)
    assert (mixed.family, mixed.safety_class, mixed.flammable, mixed.components) == ("mixed", "not known", True, ())
    assert not mixed.is_blend
    assert not mixed.contains_ods
    assert MIXED not in CODES


def test_a_mixed_content_has_figures_only_by_its_measured_composition() -> None:
    for ask in (lambda: gwp(MIXED, "EU"), lambda: odp(MIXED), lambda: co2e_mg(MIXED, 1, "AR4")):
        with pytest.raises(NoFigure, match="needs a measured composition"):
            ask()
    with pytest.raises(NoFigure, match="cannot be a part"):
        mixture_gwp({MIXED: Decimal(1)}, "EU")


@pytest.mark.parametrize(
    ("typed", "code"),
    [
        ("r134a", "R-134a"),
        ("HFC-134a", "R-134a"),
        ("R 1234yf", "R-1234yf"),
        ("1234yf", "R-1234yf"),
        ("hfo 1234YF", "R-1234yf"),
        ("HFC-1234yf", "R-1234yf"),
        ("CFC12", "R-12"),
        ("  R12  ", "R-12"),
        ("R\N{NON-BREAKING HYPHEN}404a", "R-404A"),
        ("R\N{EN DASH}12", "R-12"),
        ("R\N{MINUS SIGN}12", "R-12"),
        ("HFC-404A", "R-404A"),
        ("HCFC-401A", "R-401A"),
        ("1234ze(E)", "R-1234ze(E)"),
        ("R1234zeE", "R-1234ze(E)"),
        ("propane", "R-290"),
        ("CO2", "R-744"),
        ("CO\N{SUBSCRIPT TWO}", "R-744"),
        ("mixed", MIXED),
    ],
)
def test_what_people_write_is_found(typed: str, code: str) -> None:
    assert find(typed).code == code


@pytest.mark.parametrize(
    ("typed", "sentence"),
    [
        ("", "No refrigerant was entered."),
        (" - ", "No refrigerant was entered."),
        ("HFC-12", '"HFC-12" is not in the catalogue of refrigerants. Did you mean R-12 or'),
        ("1234ze", "Did you mean R-1234ze(E) or"),
        ("R404", "Did you mean R-404A or"),
        ("1.2", '"1.2" is not in the catalogue'),
        ("R-134a and R-12", '"R-134a and R-12" is not in the catalogue'),
        ("x" * 5000, f'"{"x" * 40}..." is not in the catalogue of refrigerants.'),
        ("a\0b", '"a?b" is not in the catalogue'),
    ],
)
def test_what_is_not_clear_is_asked_back_and_never_guessed(typed: str, sentence: str) -> None:
    with pytest.raises(UnknownRefrigerant) as refusal:
        find(typed)
    assert sentence in str(refusal.value)


@given(codes, st.sampled_from(["", " ", "-", " - "]), st.booleans())
def test_every_code_is_found_however_it_is_spaced_and_cased(code: str, gap: str, upper: bool) -> None:
    written = code.replace("-", gap)
    assert find(written.upper() if upper else written.lower()).code == code


def test_no_way_of_writing_means_two_refrigerants() -> None:
    for each in refrigerants():
        assert find(each.name) == each
        assert find(each.code.removeprefix("R-")) == each


def answer_to(text: str) -> str:
    try:
        return find(text).code
    except UnknownRefrigerant as refusal:
        return str(refusal)


@given(st.text(max_size=60) | st.text(ascii_letters + "-R0123456789", max_size=12))
def test_any_text_finds_one_entry_or_is_refused_in_a_sentence(text: str) -> None:
    answer = answer_to(text)
    assert answer in {*CODES, MIXED} or answer[-1] in ".?"
