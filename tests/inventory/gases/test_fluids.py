"""Refrigerant properties: what must hold for every fluid, and what is refused."""

import dataclasses
import math
import subprocess
import sys
from concurrent.futures import ThreadPoolExecutor

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from inventory.gases import catalogue, cycle, fluids, testgases

ALL = sorted((*fluids.PURE, *fluids.PSEUDO_PURE, *fluids.MIXTURES))
COMMON = ("R-12", "R-134a", "R-1234yf", "R-22", "R-290", "R-404A", "R-407C", "R-410A", "R-513A", "R-454C")
GAS_CONSTANT = 8.314462618
fluid = st.sampled_from(ALL)
share = st.floats(0.0, 1.0)


def between(code: str, part: float, below_top_k: float = 0.5) -> float:
    low, high = fluids.saturation_range_k(code)
    return low + part * (high - below_top_k - low)


@pytest.mark.processes
def test_the_property_library_is_not_imported_before_the_first_question():
    script = "import sys, inventory.gases.fluids; sys.exit('CoolProp' in sys.modules)"
    assert subprocess.run([sys.executable, "-c", script], check=False).returncode == 0


@pytest.mark.parametrize("code", [one.code for one in catalogue.refrigerants()])
def test_every_catalogued_refrigerant_has_data_or_says_that_it_has_none(code):
    if fluids.has_data(code):
        low, high = fluids.saturation_range_k(code)
        assert fluids.bubble_pressure_pa(code, (low + high) / 2) > 0
    else:
        with pytest.raises(fluids.NoPropertyData, match=f"no property data for {code}"):
            fluids.bubble_pressure_pa(code, 293.15)


@pytest.mark.parametrize("code", ["R-401A", "R-406A", "R-409A", "R-414B", "R-416A", "R-437A", "R-445A", "R-999", ""])
def test_a_refrigerant_without_a_model_is_never_guessed(code):
    assert not fluids.has_data(code)
    for question in (
        lambda: fluids.bubble_pressure_pa(code, 293.15),
        lambda: fluids.dew_temperature_k(code, 5e5),
        lambda: fluids.liquid_density_kg_m3(code, 293.15),
        lambda: fluids.vapour_density_kg_m3(code, 1e5, 293.15),
        lambda: fluids.molar_mass_kg_mol(code),
        lambda: fluids.critical_point(code),
        lambda: cycle.enthalpy_j_kg(code, 1e5, 293.15),
    ):
        with pytest.raises(fluids.NoPropertyData):
            question()


@settings(deadline=None, max_examples=100)
@given(fluid, share, share)
def test_saturation_pressure_rises_with_temperature(code, one, other):
    colder, warmer = sorted((between(code, one), between(code, other)))
    if warmer - colder > 0.01:
        assert fluids.bubble_pressure_pa(code, colder) < fluids.bubble_pressure_pa(code, warmer)
        assert fluids.dew_pressure_pa(code, colder) < fluids.dew_pressure_pa(code, warmer)


@settings(deadline=None, max_examples=100)
@given(fluid, share)
def test_bubble_is_never_below_dew_and_liquid_is_denser_than_vapour(code, part):
    temperature = between(code, part)
    bubble, dew = fluids.bubble_pressure_pa(code, temperature), fluids.dew_pressure_pa(code, temperature)
    if code in fluids.PURE:
        assert bubble == pytest.approx(dew, rel=1e-9)
    assert bubble >= dew * (1 - 1e-4)
    liquid = fluids.liquid_density_kg_m3(code, temperature)
    assert liquid > fluids.saturated_vapour_density_kg_m3(code, temperature)


@settings(deadline=None, max_examples=80)
@given(fluid, share)
def test_the_saturation_temperature_of_a_saturation_pressure_is_where_it_came_from(code, part):
    temperature = between(code, part, below_top_k=3.0)
    for pressure_of, temperature_of in (
        (fluids.bubble_pressure_pa, fluids.bubble_temperature_k),
        (fluids.dew_pressure_pa, fluids.dew_temperature_k),
    ):
        assert temperature_of(code, pressure_of(code, temperature)) == pytest.approx(temperature, abs=2e-3)


@settings(deadline=None, max_examples=80)
@given(fluid, st.floats(250.0, 330.0), st.floats(1.0, 2_000.0))
def test_thin_vapour_behaves_as_an_ideal_gas(code, temperature, pressure):
    low, high = fluids.saturation_range_k(code)
    if not low < temperature < high or pressure > fluids.dew_pressure_pa(code, temperature):
        return
    ideal = pressure * fluids.molar_mass_kg_mol(code) / (GAS_CONSTANT * temperature)
    assert fluids.vapour_density_kg_m3(code, pressure, temperature) == pytest.approx(ideal, rel=2e-3)


@settings(deadline=None, max_examples=60)
@given(fluid, st.floats(0.05, 0.95))
def test_vapour_meets_its_saturated_density_and_is_refused_as_liquid(code, part):
    temperature = between(code, part, below_top_k=2.0)
    dew = fluids.dew_pressure_pa(code, temperature)
    saturated = fluids.saturated_vapour_density_kg_m3(code, temperature)
    assert fluids.vapour_density_kg_m3(code, dew, temperature) == pytest.approx(saturated, rel=2e-3)
    with pytest.raises(fluids.OutsideModel, match="all vapour only up to"):
        fluids.vapour_density_kg_m3(code, dew * 1.02, temperature)


@pytest.mark.parametrize("code", COMMON)
def test_beyond_the_range_the_answer_names_the_range(code):
    low, high = fluids.saturation_range_k(code)
    for temperature in (low - 1, high + 1, -5.0, math.nan):
        with pytest.raises(fluids.OutsideModel, match=rf"at least {low - 273.15:.2f} C, at most {high - 273.15:.2f} C"):
            fluids.bubble_pressure_pa(code, temperature)
    for pressure in (0.0, -1.0, 2e9, math.nan):
        with pytest.raises(fluids.OutsideModel, match="bar absolute"):
            fluids.bubble_temperature_k(code, pressure)


def test_carbon_dioxide_above_its_critical_point_is_an_error_with_the_range():
    with pytest.raises(
        fluids.OutsideModel, match=r"35\.00 C is outside the range for R-744: at least -56\.56 C, at most 30\.98 C"
    ):
        fluids.bubble_pressure_pa("R-744", 308.15)
    ideal = 60e5 * 0.04401 / (GAS_CONSTANT * 308.15)
    assert ideal < fluids.vapour_density_kg_m3("R-744", 60e5, 308.15) < 2 * ideal


def test_a_mixture_is_not_asked_where_its_solver_was_not_tried():
    assert fluids.saturation_range_k("R-407F")[1] < 273.15 + 80
    with pytest.raises(fluids.NoPropertyData, match="does not give a single one"):
        fluids.critical_point("R-407F")


@pytest.mark.parametrize("code", sorted(fluids.MIXTURES))
def test_a_mixture_answers_at_every_kelvin_of_its_range_without_a_jump(code):
    low, high = fluids.saturation_range_k(code)
    kelvins = range(math.ceil(low), math.floor(high))
    for pressure_of in (fluids.bubble_pressure_pa, fluids.dew_pressure_pa):
        pressures = [pressure_of(code, float(at)) for at in kelvins]
        steps = [math.log(after / before) for before, after in zip(pressures, pressures[1:], strict=False)]
        assert all(0 < after <= before * 1.02 for before, after in zip(steps, steps[1:], strict=False))


@pytest.mark.parametrize("code", ["R-404A", "R-410A", "R-513A"])
def test_the_viscosity_of_a_blend_is_refused_because_it_is_not_reliable(code):
    with pytest.raises(fluids.NoPropertyData, match="not reliable"):
        fluids.vapour_viscosity_pa_s(code, 1e5, 298.15)


def test_a_substance_without_a_viscosity_model_says_so():
    with pytest.raises(fluids.NoPropertyData, match="no viscosity data for R-115"):
        fluids.vapour_viscosity_pa_s("R-115", 1e5, 298.15)


thin_gas = st.builds(testgases.ThinGas, st.floats(0.01, 1), st.floats(5e-6, 3e-5), st.floats(0.002, 0.2))


@given(thin_gas, st.lists(st.floats(0.01, 1), min_size=1, max_size=4))
def test_a_gas_mixed_with_itself_keeps_its_viscosity(gas, amounts):
    parts = [dataclasses.replace(gas, amount=amount) for amount in amounts]
    assert testgases.mixed_viscosity_pa_s(parts) == pytest.approx(gas.viscosity_pa_s)


@given(thin_gas, thin_gas)
def test_a_trace_of_another_gas_hardly_moves_the_viscosity_of_a_mixture(one, other):
    trace = dataclasses.replace(other, amount=one.amount * 1e-6)
    assert testgases.mixed_viscosity_pa_s([one, trace]) == pytest.approx(one.viscosity_pa_s, rel=1e-3)


@given(st.lists(thin_gas, min_size=2, max_size=4), st.floats(0.1, 10))
def test_only_the_proportions_of_a_mixture_count(gases, times):
    scaled = [dataclasses.replace(gas, amount=gas.amount * times) for gas in gases]
    assert testgases.mixed_viscosity_pa_s(scaled) == pytest.approx(testgases.mixed_viscosity_pa_s(gases))


BLENDS = sorted((*fluids.PSEUDO_PURE, *fluids.MIXTURES))
WITHOUT_A_PART = {"R-420A": "R-142b", "R-466A": "R-13I1", "R-502": "R-115"}


def parts_of(code):
    return {part: float(fraction) for part, fraction in catalogue.refrigerant(code).components}


@pytest.mark.parametrize("code", [code for code in BLENDS if code not in WITHOUT_A_PART])
def test_the_viscosity_of_a_blend_lies_among_those_of_its_components_or_a_little_above(code):
    # A mixture of light and heavy molecules can be a little more viscous than either: R-410A is, by 0.2 %.
    ours = testgases.blend_viscosity_pa_s(parts_of(code), 298.15)
    each = [fluids.vapour_viscosity_pa_s(part, 1e4, 298.15) for part in parts_of(code)]
    assert min(each) < ours < max(each) * 1.05


@pytest.mark.parametrize("code", sorted(WITHOUT_A_PART))
def test_a_component_without_viscosity_leaves_its_blend_without(code):
    with pytest.raises(fluids.NoPropertyData, match=f"no viscosity data for {WITHOUT_A_PART[code]}$"):
        testgases.blend_viscosity_pa_s(parts_of(code), 298.15)


@given(st.floats(0, 0.1), st.floats(1e5, 3e6), st.floats(263, 323))
def test_a_little_hydrogen_moves_the_viscosity_of_nitrogen_by_less_than_one_per_cent(fraction, pressure, kelvin):
    mixed = testgases.nitrogen_hydrogen_viscosity_pa_s(kelvin, pressure, fraction)
    assert mixed == pytest.approx(testgases.nitrogen_viscosity_pa_s(kelvin, pressure), rel=0.01)
    if fraction == 0:
        assert mixed == pytest.approx(testgases.nitrogen_viscosity_pa_s(kelvin, pressure), rel=1e-9)


@pytest.mark.parametrize("fraction", [-0.01, 1.01, math.nan])
def test_a_part_of_hydrogen_that_cannot_be_is_refused(fraction):
    with pytest.raises(fluids.OutsideModel, match="between 0 and 1"):
        testgases.nitrogen_hydrogen_viscosity_pa_s(298.15, 1e6, fraction)


@pytest.mark.parametrize("code", ALL)
def test_saturation_pressure_rises_at_every_step_of_the_whole_range_of_every_fluid(code):
    at_k = [between(code, i / 60) for i in range(61)]
    for pressure_of in (fluids.bubble_pressure_pa, fluids.dew_pressure_pa):
        pressures = [pressure_of(code, kelvin) for kelvin in at_k]
        assert all(colder < warmer for colder, warmer in zip(pressures, pressures[1:], strict=False))


@pytest.mark.parametrize("pressure", [0.0, -1.0, math.nan])
def test_a_vapour_without_pressure_is_refused(pressure):
    with pytest.raises(fluids.OutsideModel, match="above nothing"):
        fluids.vapour_density_kg_m3("R-134a", pressure, 293.15)


@pytest.mark.parametrize("code", COMMON)
def test_enthalpy_has_the_zero_of_the_trade_and_evaporation_costs_heat(code):
    pressure = fluids.bubble_pressure_pa(code, 273.15)
    liquid, vapour = cycle.saturated_enthalpies_j_kg(code, pressure)
    assert liquid == pytest.approx(200_000, abs=1)
    assert vapour > liquid + 100_000
    superheated = cycle.enthalpy_j_kg(code, pressure, fluids.dew_temperature_k(code, pressure) + 10)
    subcooled = cycle.enthalpy_j_kg(code, pressure, 268.15)
    assert subcooled < liquid < vapour < superheated


def test_between_bubble_and_dew_a_pressure_and_temperature_do_not_fix_the_enthalpy():
    pressure = fluids.bubble_pressure_pa("R-407C", 273.15)
    with pytest.raises(fluids.OutsideModel, match="liquid and vapour together"):
        cycle.enthalpy_j_kg("R-407C", pressure, 275.15)


@settings(deadline=None, max_examples=100)
@given(st.sampled_from(COMMON), st.floats(0.5, 20.0), st.floats(1.0, 8.0))
def test_ideal_compression_costs_the_work_of_v_dp(code, superheat, ratio):
    start_pa = fluids.dew_pressure_pa(code, 275.0)
    end_pa = min(start_pa * ratio, fluids.dew_pressure_pa(code, 333.15))
    ratio = end_pa / start_pa
    start_k = 275.0 + superheat
    before = cycle.enthalpy_j_kg(code, start_pa, start_k)
    after = cycle.isentropic_enthalpy_j_kg(code, start_pa, start_k, end_pa)
    volume = 1 / fluids.vapour_density_kg_m3(code, start_pa, start_k)
    # dh = v dp at constant entropy: v falls as p rises, so the work lies between that of v ~ 1/p and of constant v.
    assert after - before <= volume * (end_pa - start_pa) + 1
    assert after - before >= volume * start_pa * math.log(ratio) * 0.9 - 1


def test_compression_to_a_lower_pressure_is_refused():
    with pytest.raises(fluids.OutsideModel, match="below the one before"):
        cycle.isentropic_enthalpy_j_kg("R-134a", 3e5, 290.0, 2e5)


def test_compression_that_ends_slightly_wet_agrees_with_the_two_phase_equation():
    import CoolProp.CoolProp as library

    start_k = 263.15
    start_pa = fluids.dew_pressure_pa("R-1234yf", start_k)
    entropy = library.PropsSI("S", "T", start_k, "Q", 1, "R1234yf")
    two_phase = library.PropsSI("H", "P", 20e5, "S", entropy, "R1234yf")
    start = library.PropsSI("H", "T", start_k, "Q", 1, "R1234yf")
    ours = cycle.isentropic_enthalpy_j_kg("R-1234yf", start_pa, start_k, 20e5)
    assert ours - cycle.enthalpy_j_kg("R-1234yf", start_pa, start_k) == pytest.approx(two_phase - start, rel=1e-3)


def test_many_threads_get_the_same_answers_as_one():
    def answers(offset: int) -> list[float]:
        kelvins = [260.0 + (offset + step) % 60 for step in range(60)]
        return [fluids.bubble_pressure_pa(code, at) for at in kelvins for code in ("R-134a", "R-407C", "R-513A")]

    alone = [answers(offset) for offset in range(8)]
    with ThreadPoolExecutor(8) as pool:
        assert list(pool.map(answers, range(8))) == [pytest.approx(row, rel=1e-9) for row in alone]


def test_water_vapour_pressure_is_steady_across_the_melting_point():
    over_ice = testgases.water_vapour_pressure_pa(273.1599)
    over_water = testgases.water_vapour_pressure_pa(273.1601)
    assert over_ice == pytest.approx(over_water, rel=1e-4)
    with pytest.raises(fluids.OutsideModel, match="outside the range for ice"):
        testgases.water_vapour_pressure_pa(150.0)
    with pytest.raises(fluids.OutsideModel, match="outside the range for water"):
        testgases.water_vapour_pressure_pa(700.0)


@pytest.mark.parametrize(("pressure", "temperature"), [(0.0, 300.0), (1e5, 150.0), (1e9, 300.0)])
def test_nitrogen_outside_its_range_is_refused(pressure, temperature):
    with pytest.raises(fluids.OutsideModel):
        testgases.nitrogen_density_kg_m3(pressure, temperature)
