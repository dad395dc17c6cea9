"""What refrigerants weigh in the air: potentials of single ones, blends and measured compositions."""

from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from inventory.gases.catalogue import UnknownRefrigerant, refrigerant, refrigerants
from inventory.gases.potentials import (
    AIR,
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

CODES = [each.code for each in refrigerants()]


codes = st.sampled_from(CODES)
bases = st.sampled_from(GWP_BASES)
masses_mg = st.integers(0, 10**12)


def figure(code: str, basis: str) -> Figure | None:
    try:
        return gwp(code, basis)
    except NoFigure:
        return None


with_figure = st.sampled_from([(code, basis) for code in CODES for basis in GWP_BASES if figure(code, basis)])


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
        (
            "R-1234yf",
            "US",
            r"hydrofluorocarbons alone and does not list it; .* within a blend only. The .* has one: AR6",
        ),
        ("R-13I1", "EU", "holds within a blend only"),
        ("R-12", "EU", r"does not list ozone-depleting substances. \(EU\) 2024/590 does, but .* not read"),
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
