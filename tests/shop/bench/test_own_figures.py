"""Every figure of a calculation's sentence, said in the workshop's units: none bare, none in a unit of another kind."""

import re
from itertools import product

import pytest

from inventory.measure.figures import NARROW, parted
from inventory.measure.own import Units
from inventory.measure.spoken import in_own_units
from shop.bench.answers import PA_PER_INHG, PA_PER_PSI, bar, celsius_read, mbar
from shop.bench.hold import judge as judge_hold
from shop.bench.holdfacts import Hold, HoldReading
from shop.bench.insides import of_class
from shop.bench.leakrate import BetweenVisits, between_visits
from shop.bench.recovery import Recovery, prove
from shop.bench.standing import Standing, read_standing
from shop.bench.vacuum import judge as judge_vacuum
from shop.bench.vacuumfits import NEEDLE, Vacuum, VacuumReading

ATMOSPHERE_PA = 101_325.0
US = Units(mass="lb", pressure="psi", vacuum="micron", temperature="F")
SPACES = ({"volume_m3": 0.002}, {"volume_m3": None, "inside": of_class("car")})
_BARE = re.compile(
    r"(?<![\w.,+/-])(?<!RD )[-+\N{MINUS SIGN}]?[\d,]*\.?\d+(?![\w.]|,\d)"
    r"(?! to [\d.]+[ \N{NARROW NO-BREAK SPACE}](?:Pa m3|L|min|oz|lb|psi|micron|F))[ \N{NARROW NO-BREAK SPACE}]?([\w%]*)"
)
_UNITS = frozenset(["psi", "micron", "inHg", "oz", "lb", "F", "Pa", "min", "minutes", "h", "days", "day", "L", "%"])


def bare(sentence: str) -> list[str]:
    """Return the figures of a sentence that no unit of the workshop follows."""
    ungrouped = re.sub(rf"(?<=\d){NARROW}(?=\d{{3}}\b)", "", sentence)
    return [found[0] for found in _BARE.finditer(ungrouped) if found[1] not in _UNITS]


def holds() -> list[str]:
    said = []
    for last, kelvin, space, code in product((17, 16.98, 16, 30.8), (294.15, None), SPACES, ("R-134a", "")):
        readings = (
            HoldReading(0, 17e5 + ATMOSPHERE_PA, kelvin),
            HoldReading(1200, last * 1e5 + ATMOSPHERE_PA, kelvin),
        )
        hold = Hold(readings=readings, refrigerant=code, pressure_step_pa=1000, temperature_step_k=0.1, **space)
        answer = judge_hold(hold)
        said += [answer.sentence, *answer.cautions]
    return said


def vacuums() -> list[str]:
    curves = ((1.5, 1.5, 1.5), (1.5, 4.5, 7.5, 10.5), (1.5, 30, 40, 42, 42.5), (9, 7, 5), (1.5, 7, 8.4, 8.8, 8.9, 8.9))
    said = []
    for curve, kelvin, space, code in product(curves, (293.15, None), SPACES, ("R-134a", "")):
        readings = tuple(VacuumReading(600.0 * at, 100.0 * mbar) for at, mbar in enumerate(curve))
        vacuum = Vacuum(readings=readings, temperature_k=kelvin, refrigerant=code, pressure_step_pa=10.0, **space)
        coarse = Vacuum(readings=readings, refrigerant=code, pressure_step_pa=PA_PER_INHG / 2, gauge_kind=NEEDLE)
        for answer in (judge_vacuum(vacuum), judge_vacuum(coarse)):
            said += [answer.sentence, *answer.cautions]
    return said


def recoveries() -> list[str]:
    said = []
    for gauge_bar, kelvin, space, oil_g in product((-0.1, 1.0, 4.7, 12), (293.15, 278.15), SPACES, (200, None)):
        arrived = read_standing(
            Standing(
                refrigerant="R-134a",
                pressure_pa=ATMOSPHERE_PA + gauge_bar * 1e5,
                coldest_k=kelvin,
                pressure_step_pa=10_000,
                oil_g=oil_g,
                **space,
            )
        )
        said.append(arrived.sentence)
        for expected_g, waited_s, final_pa in product((800, 1500), (300, None), (60_000, 88_000, 300_000)):
            recovery = Recovery(
                refrigerant="R-134a",
                expected_g=expected_g,
                u_expected_g=5,
                recovered_g=780,
                u_recovered_g=2,
                pressure_pa=final_pa,
                temperature_k=kelvin,
                oil_g=oil_g,
                waited_s=waited_s,
                **space,
            )
            answer = prove(recovery)
            said += [answer.sentence, *answer.would_change, *answer.cautions]
    return said


def between_two_visits() -> list[str]:
    said = []
    for recovered_g, days in product((480, 280, 560), (30, 200)):
        facts = BetweenVisits(
            charged_g=500,
            u_charged_g=3,
            recovered_g=recovered_g,
            u_recovered_g=3,
            residue_g=5,
            u_residue_g=2,
            days=days,
        )
        answer = between_visits(facts)
        said += [answer.sentence, *answer.cautions]
    return said


@pytest.mark.parametrize("sentences", [holds, vacuums, recoveries, between_two_visits])
def test_no_figure_of_a_sentence_stays_bare_or_metric(sentences):
    said = {in_own_units(one, US) for one in sentences()}
    assert len(said) > 5
    assert {one: bare(one) for one in said if bare(one)} == {}


def test_the_give_or_take_of_a_rise_is_in_the_unit_of_the_rise():
    readings = (HoldReading(0, ATMOSPHERE_PA, 295.0), HoldReading(600, ATMOSPHERE_PA + 200 * PA_PER_PSI, 295.0))
    hold = Hold(readings=readings, volume_m3=0.002, refrigerant="R-134a", pressure_step_pa=PA_PER_PSI)
    said = judge_hold(hold).sentence
    # one step of 1 psi in two readings: 2 * 1 psi * sqrt(2 / 12) = 0.82 psi, and more by the temperature
    assert re.search(r"rose by \+13\.790 bar, give or take 0\.\d+ bar in", said)
    assert re.search(r"rose by \+200 psi, give or take [\d.]+ psi in", in_own_units(said, US))


def test_a_reading_is_said_as_it_was_typed():
    # 1 psi is 6894.757 Pa, 1 micron 0.1333224 Pa, by definition of the units
    said = {f"{psi} psi": bar(psi * PA_PER_PSI) for psi in (*range(1, 501), 2.5, 72.5)}
    said |= {f"{parted(micron)} micron": mbar(micron * 0.1333223684) for micron in (*range(100, 5001, 50), 803, 1013)}
    said |= {f"{degrees} F": celsius_read((degrees - 32) / 1.8 + 273.15) for degrees in (*range(-20, 151), 71.5)}
    assert {typed: own for typed, read in said.items() if (own := in_own_units(read, US)) != typed} == {}


@pytest.mark.parametrize(
    ("read", "words"),
    [
        (bar(4.7e5), "4.70 bar"),
        (bar(0.0), "0.00 bar"),
        (mbar(150.0), "1.50 mbar"),
        (mbar(150_000.0), f"1{NARROW}500 mbar"),
        (mbar(0.0), "0 mbar"),
        (celsius_read(293.15), "20.0 C"),
        (bar(250 * PA_PER_PSI), "17.24 bar"),
        (mbar(800 * 0.1333223684), "1.07 mbar"),
        (celsius_read(294.261), "21.1 C"),
    ],
)
def test_a_reading_in_metric_units_keeps_its_usual_digits(read, words):
    assert in_own_units(read, Units()) == words


def test_the_levels_of_holds_are_said_as_they_were_typed():
    readings = tuple(VacuumReading(at * 60.0, micron * 0.1333223684) for at, micron in ((0, 500), (10, 800)))
    vacuum = Vacuum(readings=readings, temperature_k=(70 - 32) / 1.8 + 273.15, refrigerant="R-134a", pressure_step_pa=1)
    said = in_own_units(judge_vacuum(vacuum).sentence, US)
    assert "from 500 micron to 800 micron in 10 min" in said
    read = tuple(HoldReading(at * 60.0, ATMOSPHERE_PA + psi * PA_PER_PSI, 295.0) for at, psi in ((0, 150), (20, 143)))
    hold = Hold(readings=read, volume_m3=0.002, refrigerant="R-134a", pressure_step_pa=PA_PER_PSI)
    assert "stood at 150 psi gauge at first and at 143 psi gauge 20 min" in in_own_units(judge_hold(hold).sentence, US)
