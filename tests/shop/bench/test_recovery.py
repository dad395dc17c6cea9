"""Laws of the recovery proof, its four verdicts, evidence and the split of what is left."""

from dataclasses import replace
from math import hypot

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from inventory.gases import fluids
from inventory.measure.own import Units
from inventory.measure.spoken import in_own_units
from shop.bench.answers import PA_PER_INHG, MeasurementError
from shop.bench.evidence import Evidence, split_remainder
from shop.bench.insides import Inside, of_class
from shop.bench.recovery import Recovery, expected_after_leak, prove
from shop.bench.residue import EMPTIED, LIQUID, NOT_EMPTIED, UNLESS_COLD, Ending, left, vapour_g
from shop.bench.standing import Standing, StandingAnswer, read_standing

ATMOSPHERE_PA = 101_325.0


def a_recovery(**changes: object) -> Recovery:
    recovery = Recovery(
        refrigerant="R-134a",
        expected_g=800,
        u_expected_g=5,
        recovered_g=780,
        u_recovered_g=2,
        pressure_pa=88_000,
        temperature_k=293.15,
        volume_m3=0.002,
        oil_g=200,
        waited_s=300,
    )
    return replace(recovery, **changes)  # type: ignore[arg-type]


def a_standing(gauge_bar: float, **changes: object) -> StandingAnswer:
    standing = Standing(
        refrigerant="R-134a",
        pressure_pa=ATMOSPHERE_PA + gauge_bar * 1e5,
        coldest_k=293.15,
        pressure_step_pa=10_000,
        volume_m3=0.002,
        oil_g=200,
    )
    return read_standing(replace(standing, **changes))  # type: ignore[arg-type]


@given(st.floats(0, 800), st.floats(0, 800))
def test_recovering_more_never_makes_the_verdict_worse(one_g: float, other_g: float) -> None:
    less, more = (prove(a_recovery(recovered_g=mass_g)) for mass_g in sorted((one_g, other_g)))
    assert (less.verdict, more.verdict) != ("accounted for", "short")
    assert less.missing_g >= more.missing_g


@given(st.floats(1000, 500_000), st.floats(1000, 500_000))
def test_a_lower_final_pressure_never_leaves_more(one_pa: float, other_pa: float) -> None:
    low_pa, high_pa = sorted((one_pa, other_pa))
    at = {"temperature_k": 293.15, "volume_m3": 0.002}
    assert vapour_g("R-134a", pressure_pa=low_pa, **at) <= vapour_g("R-134a", pressure_pa=high_pa, **at)


def test_a_known_date_gives_the_leak_that_would_explain_it() -> None:
    answer = prove(a_recovery(recovered_g=600, days_since_charge=365.25))
    assert answer.verdict == "short"
    assert answer.limit_g is not None
    assert answer.leak_needed_g_per_year == pytest.approx(200 - answer.limit_g)
    assert "arithmetic and not proof" in answer.sentence


def test_a_leak_that_this_visit_excludes_explains_nothing() -> None:
    answer = prove(a_recovery(recovered_g=600, days_since_charge=30, leak_excluded_g_per_year=500))
    assert answer.verdict == "not explained"
    assert "excludes more than 500 g a year" in answer.sentence
    assert prove(a_recovery(recovered_g=600, days_since_charge=300, leak_excluded_g_per_year=500)).verdict == "short"


def test_a_charge_of_yesterday_is_not_lost_without_a_witness() -> None:
    assert prove(a_recovery(recovered_g=600, days_since_charge=1)).verdict == "not explained"
    witnessed = Evidence(leak_photographed=True)
    assert prove(a_recovery(recovered_g=600, days_since_charge=1, evidence=witnessed)).verdict == "short"


def test_liquid_that_may_remain_leaves_no_bound() -> None:
    answer = prove(a_recovery(recovered_g=600, pressure_pa=580_000))
    assert answer.residual_max_g is None
    assert answer.limit_g is None
    assert answer.verdict == "short"
    assert any("recover again" in caution for caution in answer.cautions)


def test_more_than_expected_is_accounted_for_and_asked_about() -> None:
    answer = prove(a_recovery(recovered_g=860))
    assert answer.verdict == "accounted for"
    assert "60.0 g more than expected" in answer.sentence
    assert any("overfilled" in caution for caution in answer.cautions)


def test_no_wait_and_no_oil_are_said() -> None:
    answer = prove(a_recovery(waited_s=None, oil_g=None))
    assert answer.oil_allowance_g == 0
    assert any("5 minutes" in caution for caution in answer.cautions)
    assert any("oil was not entered" in caution for caution in answer.cautions)


def test_arrived_empty_needs_a_standing_pressure() -> None:
    answer = prove(a_recovery(recovered_g=0, said_to_be_empty=True))
    assert answer.verdict == "short"
    assert "no standing pressure" in answer.refused


def test_a_little_out_of_an_empty_system_is_still_empty_and_a_lot_is_not() -> None:
    evidence = Evidence(standing=a_standing(0.0), standing_photographed=True)
    assert prove(a_recovery(recovered_g=8, evidence=evidence)).verdict == "arrived empty"
    a_lot = prove(a_recovery(recovered_g=300, evidence=evidence))
    assert a_lot.verdict == "short"
    assert any("one of the two readings is wrong" in caution for caution in a_lot.cautions)


def test_low_arrival_is_named_as_the_witness_of_a_shortage() -> None:
    evidence = Evidence(standing=a_standing(2.0), standing_photographed=True)
    answer = prove(a_recovery(recovered_g=20, evidence=evidence))
    assert answer.verdict == "short"
    assert "no liquid came in (standing pressure read and photographed, no liquid possible)" in answer.sentence


def test_what_would_change_the_verdict_does() -> None:
    short = prove(a_recovery(recovered_g=700))
    assert short.limit_g is not None
    needed_g = short.missing_g - short.limit_g
    assert prove(a_recovery(recovered_g=700 + needed_g + 0.001)).verdict == "accounted for"
    assert prove(a_recovery(recovered_g=700 + needed_g - 0.001)).verdict == "short"


@pytest.mark.parametrize(
    ("evidence", "letter"),
    [
        (Evidence(standing=a_standing(0.0), standing_photographed=True), "A"),
        (Evidence(standing=a_standing(2.0), standing_photographed=True), "A"),
        (Evidence(standing=a_standing(0.0)), "D"),
        (Evidence(standing=a_standing(4.7), standing_photographed=True), "E"),
        (Evidence(open_photographed=True, leak_photographed=True), "B"),
        (Evidence(leak_photographed=True), "C"),
        (Evidence(), "E"),
    ],
)
def test_evidence_is_as_good_as_its_best_witness(evidence: Evidence, letter: str) -> None:
    assert evidence.letter == letter


def test_a_standing_pressure_above_saturation_is_air_or_something_else() -> None:
    answer = a_standing(8.0)
    assert answer.verdict == "too-high"
    assert answer.at_least_g is None
    assert answer.recovery_owed


PSI_PA = 6_894.757
AT_70_F = {"refrigerant": "R-12", "coldest_k": 294.261, "pressure_step_pa": 4 * PSI_PA}  # a gauge good to +-2 psi


def test_a_warmer_part_that_nobody_measured_may_explain_a_pressure_above_saturation() -> None:
    # R-12 stands at 70.1 psi gauge at 70 F by CoolProp (tables of the trade say 70.2, from memory)
    answer = a_standing(75 * PSI_PA / 1e5, **AT_70_F)
    assert answer.verdict == "liquid"
    assert answer.at_least_g == a_standing(70.2 * PSI_PA / 1e5, **AT_70_F).at_least_g
    said = in_own_units(answer.sentence, Units(mass="lb", pressure="psi", vacuum="micron", temperature="F"))
    assert said.startswith("4.9 psi above what R-12 stands at at 70 F (70.1 psi gauge): a warmest part of 73.7 F would")
    assert "none was measured; else there is air in it or another gas" in said
    assert "so there is air in it" not in said


def test_a_warmest_part_that_was_measured_is_held_against_it_as_before() -> None:
    assert a_standing(75 * PSI_PA / 1e5, **AT_70_F, warmest_k=294.261).verdict == "too-high"
    warm = a_standing(75 * PSI_PA / 1e5, **AT_70_F, warmest_k=296.5)
    assert warm.verdict == "liquid"
    assert "none was measured" not in warm.sentence


def test_more_than_ten_kelvin_between_parts_are_not_taken_for_likely() -> None:
    # R-12 at 304.26 K (88 F) stands at 6.5 bar gauge; 0.3 bar beyond is more than gauge and thermometer can tell.
    assert a_standing(6.5, **AT_70_F).verdict == "liquid"
    beyond = a_standing(7.2, **AT_70_F)
    assert beyond.verdict == "too-high"
    assert "even with a warmest part of 31.111 C (none was measured)" in beyond.sentence
    assert any("an estimate without a source" in source for source in beyond.sources)


def test_near_the_critical_point_no_part_is_assumed_beyond_it() -> None:
    carbon_dioxide = {"refrigerant": "R-744", "coldest_k": 298.15}  # critical at 31 C and 73.8 bar
    assert a_standing(66.0, **carbon_dioxide).verdict == "liquid"
    assert a_standing(80.0, **carbon_dioxide).verdict == "too-high"


def test_the_coldest_part_decides_whether_liquid_is_possible() -> None:
    # 4.7 bar is saturation at 20 C; with the evaporator at 15 C the same pressure is above its saturation.
    assert a_standing(3.9, coldest_k=288.15, warmest_k=293.15).verdict == "liquid"
    assert a_standing(3.9, coldest_k=293.15).verdict == "vapour"


def test_swapped_temperatures_are_refused() -> None:
    with pytest.raises(MeasurementError, match="swapped"):
        a_standing(2.0, warmest_k=283.15)


# Nothing entered: volume, coldest part, oil, wait


def an_emptied_car(**changes: object) -> Recovery:
    """850 g of 907 g came out, and it stood at 18 inHg of vacuum for five minutes; nobody knows its volume."""
    recovery = Recovery(
        refrigerant="R-134a",
        expected_g=907,
        u_expected_g=12,
        recovered_g=850,
        u_recovered_g=6,
        pressure_pa=ATMOSPHERE_PA - 18 * PA_PER_INHG,
        oil_high_g=250,
        waited_s=300,
    )
    return replace(recovery, **changes)  # type: ignore[arg-type]


def test_a_car_that_was_emptied_is_called_so_with_its_bound_first_and_is_short_all_the_same() -> None:
    answer = prove(an_emptied_car())
    assert answer.emptied
    assert answer.verdict == "short"
    assert answer.residual_max_g is not None
    assert answer.residual_max_g < 25
    assert answer.sentence.startswith("Emptied: it stood at 0.4037 bar absolute 5.0 min after the machine stopped")
    assert "at most 21 g is left (7.9 g of vapour, 12.5 g in the oil)" in answer.sentence
    assert "850 g of 907 g came out" in answer.sentence
    assert "So what is short is not in it any more." in answer.sentence
    assert "1.2 to 4 L, as cars have, which is assumed here (an estimate of the trade, no source)" in answer.sentence
    assert not any("Another" in change for change in answer.would_change)


def test_what_is_taken_for_what_is_not_known_is_said() -> None:
    cautions = " ".join(prove(an_emptied_car()).cautions)
    assert "The coldest part was not measured: -20.0 C is taken" in cautions
    assert "250 g, the most that such a circuit usually has" in cautions
    entered = prove(an_emptied_car(volume_m3=0.002, temperature_k=293.15, oil_g=100.0))
    assert not any("taken" in one for one in (*entered.cautions, entered.sentence))


@pytest.mark.parametrize("waited_s", [None, 0.0, 240.0])
def test_without_the_wait_it_is_emptied_only_unless_something_is_cold(waited_s: float | None) -> None:
    answer = prove(an_emptied_car(waited_s=waited_s))
    assert not answer.emptied
    assert answer.rest.state == UNLESS_COLD
    assert answer.sentence.startswith("Emptied, unless a cold or frosted part still holds liquid")


@pytest.mark.parametrize(
    ("entered", "said"),
    [
        ({"waited_s": None}, "no wait of 5.0 min is entered"),
        ({"waited_s": 240.0}, "it was read 4.0 min after the machine stopped, where 5.0 min are asked"),
        ({"waited_s": 600.0, "read_at_stop": True}, "the pressure after the 10 min waited is not entered"),
    ],
)
def test_what_the_wait_lacks_is_said_as_it_was_entered(entered: dict[str, float | None], said: str) -> None:
    answer = prove(an_emptied_car(**entered))
    assert answer.rest.state == UNLESS_COLD
    assert said in answer.sentence


@pytest.mark.parametrize(
    ("changes", "state"),
    [
        ({"pressure_pa": 0.9 * ATMOSPHERE_PA}, EMPTIED),
        ({"pressure_pa": 0.9 * ATMOSPHERE_PA + 1}, NOT_EMPTIED),
        ({"pressure_pa": 0.9 * ATMOSPHERE_PA, "pressure_step_pa": 100.0}, NOT_EMPTIED),
        ({"pressure_pa": 84_000.0, "atmosphere_pa": 84_500.0}, EMPTIED),
        ({"pressure_pa": 84_500.0, "atmosphere_pa": 84_500.0}, NOT_EMPTIED),
        ({"pressure_pa": 90_000.0, "atmosphere_high_pa": 104_000.0}, NOT_EMPTIED),
        ({"pressure_pa": 80_000.0, "refrigerant": "R-600a"}, LIQUID),
        ({"pressure_pa": 80_000.0, "refrigerant": "R-600a", "temperature_k": 293.15}, EMPTIED),
    ],
)
def test_where_emptied_ends(changes: dict[str, object], state: str) -> None:
    assert prove(an_emptied_car(**changes)).rest.state == state


@given(st.floats(1_000, 95_000), st.floats(255, 310), st.floats(0.0005, 0.02), st.floats(1, 4))
def test_a_wider_inside_never_leaves_less(pressure_pa: float, at_k: float, low_m3: float, times: float) -> None:
    def at_most(high_m3: float) -> float:
        inside = Inside(low_m3, high_m3, "", "class")
        ending = Ending(refrigerant="R-134a", pressure_pa=pressure_pa, temperature_k=at_k, inside=inside)
        return left(ending).at_most_g or 0.0

    assert at_most(low_m3) <= at_most(low_m3 * times)


def test_an_air_known_within_a_range_leaves_more() -> None:
    known, range_of = prove(an_emptied_car()), prove(an_emptied_car(atmosphere_high_pa=104_000.0))
    assert known.residual_max_g is not None
    assert range_of.residual_max_g is not None
    assert range_of.residual_max_g > known.residual_max_g
    assert range_of.emptied


# A standing pressure without a volume


def test_a_standing_pressure_bounds_by_the_end_of_the_class_that_is_safe() -> None:
    car = of_class("car")
    full = a_standing(4.7, inside=car)
    assert full.at_least_g == pytest.approx(a_standing(4.7, volume_m3=0.0012).at_least_g)
    assert "1.2 to 4 L, as cars have" in full.sentence
    empty = a_standing(0.0, inside=car)
    assert empty.at_most_g == pytest.approx(a_standing(0.0, volume_m3=0.004).at_most_g)
    between = a_standing(2.0, inside=car)
    assert between.verdict == "vapour"
    assert between.vapour_low_g == pytest.approx(a_standing(2.0, volume_m3=0.0012).vapour_g)
    assert between.vapour_max_g == pytest.approx(a_standing(2.0, volume_m3=0.004).vapour_max_g)
    assert "g of vapour, by the inside volume, beside" in between.sentence


def test_only_the_coldest_part_is_missed_and_only_where_something_stands() -> None:
    empty = a_standing(0.0, coldest_k=None, inside=of_class("car"))
    assert empty.verdict == "empty"
    assert "-20.0 C is taken" in empty.sentence
    with pytest.raises(MeasurementError, match="temperature of the coldest part is needed"):
        a_standing(2.0, coldest_k=None)


def test_where_the_height_is_not_known_what_is_said_of_the_content_gives_way_to_both_sides() -> None:
    around = {"atmosphere_low_pa": 75_000.0, "atmosphere_high_pa": 104_000.0}
    # 4.7 bar gauge may be saturation at sea level, and 0.26 bar below it high up: liquid, or vapour alone.
    full, wide = a_standing(4.7), a_standing(4.7, **around)
    assert (full.verdict, wide.verdict) == ("liquid", "liquid")
    assert (wide.at_least_g or 0.0) < (full.at_least_g or 0.0)
    measured = {"warmest_k": 293.15}
    assert a_standing(4.9, **measured).verdict == "too-high"
    assert a_standing(4.9, **measured, **around).verdict == "liquid"
    empty, wide_empty = a_standing(0.0), a_standing(0.0, **around)
    assert (wide_empty.at_most_g or 0.0) > (empty.at_most_g or 0.0)


def test_oil_that_nobody_measured_is_bounded_by_the_class() -> None:
    answer = a_standing(0.0, oil_g=None, oil_high_g=250.0)
    assert answer.oil_allowance_g == pytest.approx(12.5)
    assert "at most 12.5 g in the oil (its amount was not entered)" in answer.sentence


@given(st.floats(0, 2000), st.floats(0, 100), st.sampled_from("ABCDE"))
def test_the_split_adds_up_and_posts_no_more_than_is_left(left: float, bound: float, letter: str) -> None:
    split = split_remainder(left_g=left, residue_bound_g=bound, evidence_letter=letter)
    assert split.residue_g + split.road_g + split.unexplained_g == pytest.approx(left)
    assert 0 <= split.residue_g <= left
    assert (split.road_g if letter == "E" else split.unexplained_g) == 0


def test_a_known_leak_is_taken_from_the_last_charge() -> None:
    expected_g, u_g = expected_after_leak(
        charged_g=800, u_charged_g=1, leak_g_per_year=40, u_leak_g_per_year=8, days=365.25
    )
    assert expected_g == pytest.approx(760)
    assert u_g == pytest.approx(hypot(1, 8))
    gone, _ = expected_after_leak(charged_g=800, u_charged_g=1, leak_g_per_year=900, u_leak_g_per_year=8, days=731)
    assert gone == 0


@pytest.mark.parametrize(
    ("changes", "says"),
    [
        ({"expected_g": 0.0}, "expected mass"),
        ({"recovered_g": -1.0}, "recovered mass"),
        ({"volume_m3": 0.0}, "volume"),
        ({"pressure_pa": -1.0}, "final absolute pressure"),
        ({"u_recovered_g": float("nan")}, "not a number"),
        ({"days_since_charge": -1.0}, "number of days"),
    ],
)
def test_what_cannot_be_is_refused_with_a_sentence(changes: dict[str, object], says: str) -> None:
    with pytest.raises(MeasurementError, match=says):
        prove(a_recovery(**changes))


def test_an_unknown_evidence_class_is_refused() -> None:
    with pytest.raises(MeasurementError, match="one of"):
        split_remainder(left_g=1, residue_bound_g=1, evidence_letter="F")


@settings(deadline=None, max_examples=100)
@given(st.sampled_from(["R-12", "R-134a", "R-1234yf", "R-407C"]), st.floats(0.01, 0.9), st.floats(263.0, 313.0))
def test_vapour_is_never_less_than_an_ideal_gas_would_hold(code: str, part: float, kelvin: float) -> None:
    """The oracle: p V M / (R T), which real vapour exceeds."""
    pressure_pa = part * fluids.dew_pressure_pa(code, kelvin)
    ideal_g = pressure_pa * 0.002 * fluids.molar_mass_kg_mol(code) / (8.314462618 * kelvin) * 1000
    assert vapour_g(code, pressure_pa=pressure_pa, temperature_k=kelvin, volume_m3=0.002) >= ideal_g
