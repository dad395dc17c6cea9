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
    AIR,
    FORMER_GWP_BASES,
    GWP_BASES,
    ODP_BASES,
    Figure,
    NoFigure,
    co2e_mg,
    equivalent_mg,
    gwp,
    mixture_gwp,
    mixture_odp,
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
bases = st.sampled_from(GWP_BASES)
masses_mg = st.integers(0, 10**12)


def rows(table: str) -> list[dict[str, str]]:
    with (DATA / table).open(encoding="utf-8", newline="") as lines:
        return list(csv.DictReader(lines))


def figure(code: str, basis: str) -> Figure | None:
    try:
        return gwp(code, basis)
    except NoFigure:
        return None


with_figure = st.sampled_from([(code, basis) for code in CODES for basis in GWP_BASES if figure(code, basis)])


# The rows


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


# Refrigerants


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


# A mixed content


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


# What people type


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


# Global warming potential


@given(with_figure)
def test_every_figure_is_not_negative_and_names_its_source(pair: tuple[str, str]) -> None:
    answer = gwp(*pair)
    assert answer.value >= 0
    assert answer.source


@given(codes, bases)
def test_a_blend_lies_between_its_parts(code: str, basis: str) -> None:
    parts = [figure(part, basis) for part, _ in refrigerant(code).components]
    if whole := figure(code, basis):
        # A part that the law leaves out counts 0.
        values = [part.value if part else Decimal(0) for part in parts]
        assert min(values) <= whole.value <= max(values)
    else:
        assert None in parts


def test_a_blend_says_how_its_figure_came_about() -> None:
    source = gwp("R-404A", "EU").source
    assert "by nominal mass fraction: 44 % R-125 at 3500, 52 % R-143a at 4470, 4 % R-134a at 1430" in source
    assert "(EU) 2024/573 Annex I" in source
    assert "Composition: ASHRAE" in source


@pytest.mark.parametrize(
    ("code", "basis", "why"),
    [
        ("R-1234yf", "AR4", "R-1234yf has no GWP on basis AR4: no published figure"),
        ("R-454B", "AR4", "R-454B has no GWP on basis AR4, since its part R-1234yf has none"),
        ("R-414B", "AR6", "since its part R-600a has none"),
        ("R-1234yf", "US", "the law does not list it"),
        ("R-13I1", "EU", "holds within a blend only"),
        ("R-12", "EU", "does not list ozone-depleting substances"),
        ("R-401A", "EU", "its part R-22 has none: .* does not list ozone-depleting substances"),
    ],
)
def test_where_nothing_is_published_there_is_no_figure_but_a_reason(code: str, basis: str, why: str) -> None:
    with pytest.raises(NoFigure, match=why):
        gwp(code, basis)


def test_the_european_rule_counts_an_unlisted_part_as_nothing_and_says_so() -> None:
    answer = gwp("R-466A", "EU")  # 49 % R-32, 11.5 % R-125, 39.5 % R-13I1, which no annex lists
    assert answer.value == Decimal("0.49") * 675 + Decimal("0.115") * 3500
    assert "39.5 % R-13I1 at 0" in answer.source
    assert "Annex VI default for unlisted substances" in answer.source


def test_an_exchange_value_sum_leaves_unlisted_parts_out_and_says_so() -> None:
    answer = gwp("R-454B", "US")
    assert answer.value == Decimal("0.689") * 675
    assert "31.1 % R-1234yf at 0" in answer.source
    assert "only exchange values are counted" in answer.source


def test_an_ozone_depleting_part_is_never_counted_as_nothing() -> None:
    with pytest.raises(NoFigure, match="its part R-12 has none"):
        mixture_gwp({"R-12": Decimal("0.1"), "R-134a": Decimal("0.9")}, "EU")


def test_the_exchange_values_of_old_gases_say_that_they_set_a_baseline_only() -> None:
    assert "baseline-setting only" in gwp("R-12", "US").source


def test_the_hydrocarbon_figures_of_ar4_name_the_regulation_that_states_them() -> None:
    assert "517/2014 Annex IV" in gwp("R-290", "AR4").source


@pytest.mark.parametrize("basis", ["", "ar4", "AR7", "montreal"])
def test_an_unknown_basis_is_refused_with_the_known_ones_named(basis: str) -> None:
    with pytest.raises(ValueError, match="is not a basis. The bases are SAR, TAR"):
        gwp("R-134a", basis)
    with pytest.raises(ValueError, match="is not a basis. The bases are montreal, us-cfr, us-statute"):
        odp("R-134a", "AR4")


# Ozone depletion potential


@given(codes, st.sampled_from(ODP_BASES))
def test_only_what_holds_an_ozone_depleting_part_has_a_potential(code: str, basis: str) -> None:
    assert (odp(code, basis).value > 0) is refrigerant(code).contains_ods


def test_a_zero_potential_says_whether_it_is_chemistry_or_law() -> None:
    assert odp("R-134a").source == "not an ozone-depleting substance"
    assert "not a controlled substance on basis montreal" in odp("R-1233zd(E)").source
    assert "not a controlled substance on basis us-cfr" in odp("R-13I1", "us-cfr").source


def test_a_potential_from_memory_is_marked_in_the_blend_too() -> None:
    assert odp("R-115", "us-statute").from_memory
    assert odp("R-502", "us-statute").from_memory
    assert not odp("R-502", "us-cfr").from_memory


# Measured compositions


@given(with_figure)
def test_a_measured_pure_content_has_the_figure_of_its_refrigerant(pair: tuple[str, str]) -> None:
    code, basis = pair
    assert mixture_gwp({code: Decimal(1)}, basis).value == gwp(code, basis).value


@given(with_figure, st.decimals("0.001", 1, places=3), st.decimals(0, 1, places=3))
def test_air_and_what_was_not_identified_count_nothing(pair: tuple[str, str], fraction: Decimal, air: Decimal) -> None:
    code, basis = pair
    alone = mixture_gwp({code: fraction}, basis)
    assert alone.value == fraction * gwp(code, basis).value
    assert mixture_gwp({code: fraction, AIR: min(air, 1 - fraction)}, basis).value == alone.value


def test_a_blend_in_a_measured_composition_counts_by_its_parts() -> None:
    half = Decimal("0.5")
    answer = mixture_gwp({"R-404A": half, "R-134a": half}, "AR4")
    assert answer.value == (gwp("R-404A", "AR4").value + gwp("R-134a", "AR4").value) / 2
    assert "50 % R-404A, 50 % R-134a" in answer.source
    assert "Composition of R-404A: ASHRAE" in answer.source


def test_the_ozone_potential_of_a_mixture_of_old_and_new_gas_is_that_of_the_old_part() -> None:
    answer = mixture_odp({"R-12": Decimal("0.3"), "R-134a": Decimal("0.65"), AIR: Decimal("0.05")}, "montreal")
    assert answer.value == Decimal("0.3")
    assert "30 % R-12 at 1.0" in answer.source


def test_printed_percentages_may_add_up_to_a_little_more_than_the_whole() -> None:
    parts = {"R-134a": Decimal("0.667"), "R-12": Decimal("0.334")}
    assert mixture_odp(parts, "us-cfr").value == Decimal("0.334")


@pytest.mark.parametrize(
    ("parts", "sentence"),
    [
        ({"R-134a": Decimal("91.5")}, 'The share of "R-134a" must lie between 0 and 100 %'),
        ({"R-134a": Decimal("-0.1")}, "must lie between 0 and 100 %"),
        ({"R-134a": Decimal("NaN")}, "must lie between 0 and 100 %"),
        ({"R-134a": Decimal("0.8"), AIR: Decimal("0.3")}, "add up to 110 %, which is more than the whole"),
        ({AIR: Decimal(1)}, "names no refrigerant"),
        ({}, "names no refrigerant"),
    ],
)
def test_an_impossible_composition_is_refused_in_a_sentence(parts: dict[str, Decimal], sentence: str) -> None:
    with pytest.raises(ValueError, match=sentence):
        mixture_gwp(parts, "EU")
    with pytest.raises(ValueError, match=sentence):
        mixture_odp(parts, "montreal")


def test_an_unknown_part_is_refused() -> None:
    with pytest.raises(UnknownRefrigerant, match="HFC-134a"):
        mixture_gwp({"HFC-134a": Decimal(1)}, "EU")


# CO2 equivalent


@given(with_figure, masses_mg)
def test_a_reversal_takes_back_exactly_what_was_counted(pair: tuple[str, str], mass_mg: int) -> None:
    code, basis = pair
    assert co2e_mg(code, -mass_mg, basis) == -co2e_mg(code, mass_mg, basis)


@given(with_figure, masses_mg)
def test_the_co2_equivalent_is_within_half_a_milligram_of_the_product(pair: tuple[str, str], mass_mg: int) -> None:
    code, basis = pair
    assert abs(co2e_mg(code, mass_mg, basis) - gwp(code, basis).value * mass_mg) <= Decimal("0.5")


def test_half_a_milligram_is_rounded_up() -> None:
    assert equivalent_mg(Decimal("0.5"), 1) == 1
    assert equivalent_mg(Decimal("0.5"), 3) == 2
    assert equivalent_mg(Decimal("0.5"), -1) == -1
    assert equivalent_mg(Decimal("0.49"), 1) == 0


@pytest.mark.parametrize(
    ("basis", "workshop_kg", "road_kg"),
    [
        ("AR4", "291.7", "180.2"),
        ("EU", "291.7", "180.2"),
        ("US", "291.7", "180.2"),
        ("AR5", "265.2", "163.8"),
        ("AR6", "312.1", "192.8"),
    ],
)
def test_a_year_of_losses_has_its_co2_equivalent_on_every_basis(basis: str, workshop_kg: str, road_kg: str) -> None:
    kilograms = [Decimal(co2e_mg("R-134a", grams * 1000, basis)) / 1_000_000 for grams in (204, 126)]
    assert [str(round(each, 1)) for each in kilograms] == [workshop_kg, road_kg]


def test_old_gas_sent_to_destruction_has_its_co2_equivalent_and_its_ozone_mass() -> None:
    assert round(Decimal(co2e_mg("R-12", 3_358_000, "AR4")) / 10**9, 1) == Decimal("36.6")  # t
    assert equivalent_mg(odp("R-12").value, 3_358_000) == 3_358_000


def test_a_contaminated_charge_counts_by_its_identifier_reading() -> None:
    reading = {"R-1234yf": Decimal("0.915"), "R-134a": Decimal("0.080"), AIR: Decimal("0.005")}
    kilograms = Decimal(equivalent_mg(mixture_gwp(reading, "EU").value, 465_000)) / 1_000_000
    assert round(kilograms, 1) == Decimal("53.4")
    assert round(Decimal("0.465") * Decimal("0.080") * gwp("R-134a", "EU").value, 1) == Decimal("53.2")
    assert round(Decimal("0.465") * Decimal("0.915") * gwp("R-1234yf", "EU").value, 1) == Decimal("0.2")
