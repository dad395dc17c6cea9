"""Every kind of step says in one line what it came to, in the units it was typed in and in the workshop's."""

import pytest

from inventory.measure.own import Units
from inventory.measure.spoken import in_own_units
from shop.bench.answers import grams_read
from shop.visits.kinds import BY_NAME, KINDS
from shop.visits.lines import LINES, Line, line_of
from shop.visits.shown import in_pounds_and_ounces

US = Units(mass="lb", pressure="psi", vacuum="micron", temperature="F")
PSI, INHG = 6894.757, 3386.389


def typed(text, unit, si):
    return {"text": text, "unit": unit, "si": si, "mg": round(si * 1e6)}


def chosen(**answers):
    return {name: {"text": text} for name, text in answers.items()}


def counted(**numbers):
    return {name: {"text": str(number), "si": float(number)} for name, number in numbers.items()}


def readings(*rows):
    """Readings of minutes, typed pressure, its unit, pascal, kelvin or None."""
    return {
        "text": [{"time": str(row[0]), "pressure": row[1], "pressure_unit": row[2]} for row in rows],
        "si": [{"time_s": row[0] * 60.0, "pressure_pa": row[3], "temperature_k": row[4]} for row in rows],
    }


GAUGE_70_PA = 101_325.0 + 70 * PSI
SAID = {
    "received": (chosen(state="runs", odometer="112,000 miles"), "Arrived: runs, odometer 112,000 miles"),
    "label read": (
        chosen(label="label read", refrigerant="R-134a", lubricant="PAG 46", where="hood")
        | {"mass": typed("32", "oz", 0.907184740), "tolerance": typed("1 oz", "oz", 0.028349523)},
        "Label: 32 oz R-134a, plus or minus 1 oz, oil PAG 46, read: hood",
    ),
    "ports seen": (
        chosen(high="R-134a quick coupler", low="R-134a quick coupler", adapters="no", leak_stop="none seen"),
        "Ports: R-134a quick coupler on both sides, no adapters, leak-stop: none seen",
    ),
    "standing pressure": (
        {"pressure": typed("70", "psig", GAUGE_70_PA), "coldest": typed("68", "F", 293.15)},
        "Standing pressure: 70 psi gauge, coldest part 68 F",
    ),
    "identified": (
        chosen(result="used") | {"shares": {"text": "-", "si": {"R-134a": "0.992", "air": "0.008"}}},
        "Identified: R-134a 99.2 %, air 0.8 %",
    ),
    "recovery": (
        chosen(stopped="done")
        | {
            "pressure_after_wait": typed("18 inHg", "inHg vacuum", 101_325 - 18 * INHG),
            "waited": typed("5", "min", 300.0),
        },
        "Recovered: 18 inHg of vacuum, 5 min after it stopped",
    ),
    "remainder settled": (chosen(evidence="E: nothing"), "What was left is settled: evidence E: nothing"),
    "circuit opened": (chosen(what="condenser", relieved="yes"), "Circuit opened: condenser, pressure relieved before"),
    "circuit closed": (chosen(what="all joints", capped="no"), "Circuit closed: all joints, ends were not capped"),
    "part out": (
        chosen(part="condenser", oil_type="PAG 46") | {"oil_found": typed("30", "mL", 3e-5)},
        "Part out: condenser, oil in it 30 mL of PAG 46",
    ),
    "part in": (
        chosen(part="drier", condition="new", number="44-1", seal="HNBR") | {"oil_in": typed("10", "mL", 1e-5)},
        "Part in: drier, new, no. 44-1, seal HNBR, oil put in 10 mL",
    ),
    "flush": (
        chosen(agent="FL-2", driven="nitrogen", parts="condenser", waste="waste drum"),
        "Flushed: condenser, with FL-2, by nitrogen, waste: waste drum",
    ),
    "oil balance": (
        chosen(type="ester", why="new drier") | {"out": typed("190", "mL", 1.9e-4), "in": typed("200", "mL", 2e-4)},
        "Oil: 190 mL out, 200 mL in, ester, 10 mL more in than out, new drier",
    ),
    "high voltage isolated": (
        chosen(method="service plug out", dead="yes"),
        "High voltage isolated: service plug out, measured to be dead",
    ),
    "pressure hold": (
        chosen(gas="dry nitrogen")
        | {
            "readings": readings(
                (0, "250", "psig", 101_325 + 250 * PSI, 295.15), (20, "251 psi", "psig", 101_325 + 251 * PSI, 296.15)
            )
        },
        "Pressure hold with dry nitrogen: 250 psi gauge at 71.6 F to 251 psi gauge at 73.4 F in 20 min",
    ),
    "leak search": (
        chosen(method="electronic", where="high-side port") | counted(joints=14, leaking=1),
        "Leak search, electronic detector: 14 joints looked at, 1 leaking (high-side port)",
    ),
    "repair": (chosen(joint="high-side port", what="core renewed"), "Repaired: high-side port, core renewed"),
    "pulling vacuum": (
        chosen(pump="P1")
        | {"lowest": typed("500 micron", "micron", 66.66), "start": {"text": "-", "si": 0.0}, "end": {"si": 2700.0}},
        "Vacuum pulled to 500 micron in 45 min, with P1",
    ),
    "vacuum hold": (
        {
            "readings": readings((0, "500", "micron", 66.66, None), (30, "800", "micron", 106.66, None)),
            "coldest": typed("68", "F", 293.15),
        },
        "Vacuum hold: 500 micron to 800 micron in 30 min, coldest part 68 F",
    ),
    "charge": (
        chosen(phase="liquid") | {"target": typed("27", "oz", 0.765), "tolerance": typed("1 oz", "oz", 0.028)},
        "Charged: target 27 oz, plus or minus 1 oz, drawn as liquid",
    ),
    "running test": (
        {
            "air": typed("85", "F", 302.6),
            "vent": typed("45", "F", 280.4),
            "low": typed("30", "psig", 308_000.0),
            "high": typed("190", "psig", 1_411_000.0),
        },
        "Running test: vent 45 F with air at 85 F, low side 30 psi gauge, high side 190 psi gauge",
    ),
    "after-search": (
        chosen(caps="yes") | counted(joints=1, leaking=0),
        "Searched with the charge in: 1 joint looked at, none found leaking, caps fitted",
    ),
    "conversion done": (chosen(to="R-134a", lubricant="ester"), "Converted from R-12 to R-134a, oil ester"),
    "declined": (
        chosen(advised="a new hose", declined="the hose", signed="no"),
        "Declined: the hose, advised was a new hose, not signed by the customer",
    ),
    "interrupted": (
        chosen(why="power", left="valve shut")
        | {"from": {"text": "-", "echo": "2025-09-15 13:55"}, "to": {"text": "-", "echo": "2025-09-15 14:10"}},
        "Interrupted: power, from 2025-09-15 13:55 until 2025-09-15 14:10, left as valve shut",
    ),
    "paper sheet": (chosen(number="0217", reason="lights out"), "From paper: sheet 0217, lights out"),
    "hand-over": (
        chosen(documents="visit record", next_look="in a year", signed="yes"),
        "Handed over: visit record, look again in a year, signed by the customer",
    ),
    "spot check": (
        chosen(looked="pressures and label", found="does not agree", gap="another gas on the label"),
        "Spot check: does not agree, another gas on the label, looked at: pressures and label",
    ),
}


def test_every_kind_of_step_has_a_line_and_a_case_here():
    names = {kind.name for kind in KINDS}
    assert set(LINES) == names
    assert set(SAID) == names


@pytest.mark.parametrize("name", sorted(SAID))
def test_a_line_says_what_the_step_came_to(name):
    data, line = SAID[name]
    was = "R-12" if name == "conversion done" else ""
    assert line_of(Line(BY_NAME[name], data, US, was)) == line


@pytest.mark.parametrize("name", sorted(SAID))
def test_a_step_with_nothing_entered_says_so_and_never_breaks(name):
    line = line_of(Line(BY_NAME[name], {}))
    kind = BY_NAME[name]
    assert line
    assert line != f"{kind.done}: {kind.words}"
    assert "None" not in line


@pytest.mark.parametrize(
    ("name", "data", "units", "line"),
    [
        ("label read", chosen(label="no label"), US, "Label: none on the vehicle"),
        ("label read", chosen(label="label read", refrigerant="R-134a"), US, "Label: R-134a, mass not entered"),
        (
            "label read",
            chosen(label="label read") | {"mass": typed("450", "g", 0.45)},
            Units(),
            "Label: refrigerant not entered, 450 g",
        ),
        ("identified", chosen(result="none here"), US, "No identifier used"),
        (
            "standing pressure",
            {"pressure": typed("4.7", "barg", 571_325.0), "coldest": typed("20", "C", 293.15)},
            US,
            "Standing pressure: 4.7 bar gauge (68.2 psi gauge), coldest part 20 C (68 F)",
        ),
        (
            "standing pressure",
            {"pressure": typed("0", "barg", 101_325.0)},
            Units(),
            "Standing pressure: 0 bar gauge, temperature not entered",
        ),
        (
            "pulling vacuum",
            {"lowest": typed("1.5", "mbar absolute", 150.0)},
            Units(),
            "Vacuum pulled to 1.5 mbar absolute",
        ),
        (
            "vacuum hold",
            {"readings": readings((0, "1.5", "mbar absolute", 150.0, None))},
            Units(),
            "Vacuum hold: 1.5 mbar absolute alone, no second reading",
        ),
        ("leak search", chosen(method="bubbles"), US, "Leak search, bubbles: 0 joints looked at, none found leaking"),
        (
            "leak search",
            chosen(method="electronic", gas="dry nitrogen"),
            US,
            "Leak search, electronic detector: 0 joints looked at, but an electronic search does not notice nitrogen: "
            "it cannot tell",
        ),
    ],
)
def test_a_line_says_what_is_not_there_and_the_other_unit(name, data, units, line):
    found = line_of(Line(BY_NAME[name], data, units))
    assert found.replace("\N{NARROW NO-BREAK SPACE}", " ") == line


@pytest.mark.parametrize(
    ("grams", "own", "metric"),
    # 5.6 oz and 0.2 oz, each rounded once to the milligram, as a scale in steps of 0.1 oz shows them
    [
        (158.757, "5.6 oz", "159 g"),
        (5.670, "0.2 oz", "5.67 g"),
        (1_020.583, "2 lb 4.0 oz", "1\N{NARROW NO-BREAK SPACE}021 g"),
        (784.0, None, "784 g"),
    ],
)
def test_what_a_scale_in_ounces_read_is_said_in_its_steps(grams, own, metric):
    said = grams_read(grams)
    assert in_own_units(said, Units()) == metric
    assert own is None or in_own_units(said, US).replace("\N{NARROW NO-BREAK SPACE}", " ") == own


def test_a_hold_says_its_change_once_corrected_for_temperature():
    data, line = SAID["pressure hold"]
    found = line_of(Line(BY_NAME["pressure hold"], data, US, change_pa=-690.0))
    assert found == f"{line}, −0.1 psi once corrected for temperature"


@pytest.mark.parametrize(
    ("units", "pressure_pa", "words"),
    [
        (US, 101_325.0 - 18 * INHG, "18 inHg of vacuum"),
        (US, GAUGE_70_PA, "70 psi gauge"),
        (US, 66.66118, "500 micron absolute"),
        (Units(), 88_000.0, "0.13 bar below the air"),
        (Units(), 150.0, "1.5 mbar absolute"),
        (Units(pressure="kPa"), 301_325.0, "200 kPa gauge"),
    ],
)
def test_a_pressure_is_said_as_a_gauge_of_the_workshop_shows_it(units, pressure_pa, words):
    assert units.pressure_said(pressure_pa) == words


@pytest.mark.parametrize(
    ("units", "mass_mg", "words"),
    [(Units(), 868_000, "0.868 kg"), (US, 907_184.74, "2 lb 0.0 oz"), (US, 4_000, "0.14 oz")],
)
def test_a_mass_is_said_in_the_unit_of_the_workshop(units, mass_mg, words):
    assert units.mass_said(mass_mg).replace("\N{NARROW NO-BREAK SPACE}", " ") == words


@pytest.mark.parametrize(
    ("metric", "own"),
    [
        # 1 bar is 14.5038 psi, 1 oz 28.3495 g, 1 lb 0.453592 kg, 1 mbar 750.06 micron: by definition of the units
        ("stands at 4.65 bar gauge", "stands at 67.4 psi gauge"),
        ("R-12 at 20.0 C and −5.0 C", "R-12 at 68 F and 23 F"),
        ("868 g of 900 g came out, 32.0 g short", "1 lb 14.6 oz of 1 lb 15.7 oz came out, 1.1 oz short"),
        ("no leak larger than 5.4 kg a year", "no leak larger than 12 lb a year"),
        ("(+0.007 bar, give or take 0.075 bar); to see", "(+0.10 psi, give or take 1.1 psi); to see"),
        ("770 g, give or take 1.9 g, 5 g over", "1 lb 11.2 oz, give or take 0.07 oz, 0.18 oz over"),
        ("from 1.50 mbar to 3.00 mbar in 30 min", "from 1 125 micron to 2 250 micron in 30 min"),
        ("0.0207 Pa m3/s of nitrogen through R-134a", "0.0207 Pa m3/s of nitrogen through R-134a"),
        ("19 g over target: within 740 to 790 g", "0.7 oz over target: within 1 lb 10.1 oz to 1 lb 11.9 oz"),
        ("3.2 to 11 kg a year of R-134a", "7.1 to 24 lb a year of R-134a"),
        ("(+-25 g), steps of 10 g, R-12 C", "(+-0.9 oz), steps of 0.35 oz, R-12 C"),
        # 24 g are 0.847 oz and 33 g 1.164: a bound goes the way in which it stays true
        ("at most 24 g is left (23.4 g of vapour)", "at most 0.9 oz is left (0.8 oz of vapour)"),
        ("holds at least 33 g; how much", "holds at least 1.1 oz; how much"),
        ("2 L at 1,013 mbar", "2 L at 14.7 psi"),
    ],
)
def test_a_sentence_of_a_calculation_is_said_in_the_units_of_the_workshop(metric, own):
    assert in_own_units(metric, Units()) == metric
    assert in_own_units(metric, US).replace("\N{NARROW NO-BREAK SPACE}", " ") == own


@pytest.mark.parametrize(
    ("text", "unit", "said"),
    [
        ("48", "oz", "3 lb 0.0 oz"),
        ("21.9", "oz", "1 lb 5.9 oz"),
        ("21,95 oz", "oz", "1 lb 5,95 oz"),
        ("15.9", "oz", ""),
        ("3 lb 2 oz", "oz", ""),
        ("1.4", "lb", ""),
    ],
)
def test_ounces_of_a_pound_and_more_are_said_as_pounds_and_ounces(text, unit, said):
    assert in_pounds_and_ounces(text, unit) == said
