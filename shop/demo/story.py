"""What happened at Port Ellery in 2025, told once: who did what, when, to which vehicle, with which readings.

`shop.demo.year` plays it through the acts; the tests of the acceptance scenarios play it through the pages. Masses are
grams as the scale shows them; what a form asks beside is given as it is typed, by the names of `shop.visits.steps`.
"""

from shop.demo.cast import DESTROYER, SUPPLIER, TECHNICIAN, TRAINEE
from shop.demo.events import (
    Accepted,
    Also,
    Arrived,
    Charged,
    Checked,
    Did,
    Event,
    Explained,
    MachineCharged,
    MachineRecovered,
    Received,
    Recovered,
    SentAway,
    Settled,
    Typed,
)

LABEL = {"label": "label read", "where": "in the engine bay"}
PULLED_DOWN = {
    "final_pressure": "4 inHg",
    "waited": "5 min",
    "pressure_after_wait": "3 inHg",
    "oil_out": "5 mL",
    "engine_run": "yes",
    "heat": "no",
    "stopped": "done",
}
PORTS = {"adapters": "no", "conversion_signs": "none seen", "leak_stop": "none seen"}
NEW_PART = {"condition": "new", "number": "PE-4471", "seal": "HNBR", "oil_in": "20 mL", "oil_type": "ester"}
VACUUM = {"readings": "0, 1.5 mbar; 15, 1.6 mbar; 30, 1.6 mbar", "gauge": "G2", "gauge_type": "absolute"}
SEARCHED = {"method": "electronic", "instrument": "L1", "sensitivity": "5", "gas": "refrigerant", "joints": "14"}
LIQUID_HIGH = {
    "phase": "liquid",
    "port": "high side",
    "stance": "upside down",
    "engine": "off",
    "hose": "pulled empty",
}
VAPOUR_LOW = {"phase": "vapour", "port": "low side", "stance": "upright", "engine": "running", "hose": "pulled empty"}
CONVERTED = {
    "to": "R-134a",
    "high_fitting": "quick coupler",
    "low_fitting": "quick coupler",
    "hoses": "barrier",
    "lubricant": "ester, 200 g",
    "drier": "new",
    "old_covered": "yes",
}
GIVEN = {"documents": "visit record", "next_look": "in a year", "signed": "yes"}
OPENED = {"what": "condenser out", "relieved": "yes"}
CAPPED = {"what": "all joints", "capped": "yes"}


def all_at(temperature: str) -> dict[str, str]:
    """Return the temperatures of a vehicle that has stood until everything is equally warm."""
    return {**dict.fromkeys(("air", "coldest", "warmest"), temperature), "gauge": "G1", "since_running": "60 min"}


def label(refrigerant: str, mass: str, **more: str) -> dict[str, str]:
    """Return what a label that could be read says."""
    return {**LABEL, "refrigerant": refrigerant, "mass": mass, **more}


def target(mass: str, tolerance: str, by: Typed = LIQUID_HIGH) -> dict[str, str]:
    """Return what a charge was to be, and how it was put in."""
    return {"target": mass, "tolerance": tolerance, **by}


OPENING = (
    Received("01-01 09:00", "C-12", 9340, origin="opening-stock"),
    Received("01-01 09:00", "C-35", 11420, origin="opening-stock"),
    Received("01-01 09:00", "C-41", 15050, origin="opening-stock"),
    Received("01-01 09:00", "C-37", 6100, origin="opening-stock"),
    Received("01-01 09:10", "T-1", origin="opening-stock", machine_g=5200),
)
A_BOTTLE_COMES = (Received("02-20 11:15", "C-34", 17190, origin="purchase", paper="HG-5521", paper_g=11_000),)

# V1, from R-12 to R-134a
A_FULL_CAR_IS_CONVERTED = (
    Arrived(
        *("03-03 08:30", "V1", "convert to R-134a"),
        typed={"state": "runs", "says": "does not cool", "odometer": "182400"},
    ),
    Did("03-03 08:40", "V1", "label read", typed=label("R-12", "900 g", tolerance="25 g")),
    Did("03-03 08:50", "V1", "standing pressure", typed={"pressure": "4.7 bar", **all_at("20 C")}),
    Did("03-03 09:00", "V1", "ports seen", typed={"high": "R-12 screw", "low": "R-12 screw", **PORTS}),
    Did("03-03 09:05", "V1", "identified", typed={"result": "none here"}),
    Recovered("03-03 09:40", "V1", "C-12", 9340, 10208, typed=PULLED_DOWN),
    Did("03-03 09:55", "V1", "circuit opened", typed={**OPENED, "what": "condenser and drier out"}),
    Also("03-03 10:40", "V1", "part in", typed={"part": "receiver drier", **NEW_PART}),
    Did("03-03 11:00", "V1", "circuit closed", typed=CAPPED),
    Did(
        *("03-03 11:45", "V1", "pressure hold"),
        typed={
            "readings": "0, 250 psi, 22 C; 20, 251 psi, 23 C",
            "volume": "2.0 L",
            "allowed": "300 psi",
            "gas": "dry nitrogen",
            "relief": "yes",
            "gauge": "G1",
            "thermometer": "TH1",
        },
    ),
    Did("03-03 12:10", "V1", "leak search", typed={**SEARCHED, "pressure": "5 bar", "leaking": "0"}),
    Did(
        *("03-03 12:30", "V1", "pulling vacuum"),
        typed={"pump": "P1, two stages", "gauge": "G2", "lowest": "1.5 mbar"},
    ),
    Did("03-03 13:00", "V1", "vacuum hold", typed={**VACUUM, "coldest": "20 C"}),
    Also(
        *("03-03 13:20", "V1", "oil balance"),
        typed={"out": "190 mL", "in": "200 mL", "type": "ester", "why": "new drier"},
    ),
    Charged("03-03 13:40", "V1", "C-34", 17186, 16402, typed=target("765 g", "25 g")),
    Did("03-03 14:00", "V1", "conversion done", typed=CONVERTED),
    Also(
        *("03-03 14:20", "V1", "running test"),
        typed={
            "air": "20 C",
            "humidity": "50 %",
            "low": "1.9 bar",
            "high": "10.8 bar",
            "vent": "8 C",
            "speed": "1500",
            "fan": "high",
            "recirculation": "yes",
        },
    ),
    Also(
        *("03-03 14:40", "V1", "after-search"),
        typed={"joints": "14", "leaking": "0", "instrument": "L1", "caps": "yes"},
    ),
    Also("03-03 15:00", "V1", "hand-over", typed=GIVEN),
)

# V2 stands at nothing; its condenser is renewed and it is converted
A_CAR_ARRIVES_EMPTY = (
    Arrived(
        *("04-14 09:00", "V2", "repair and convert"),
        typed={"state": "warm", "says": "no cooling since last summer"},
    ),
    Did("04-14 09:10", "V2", "label read", typed=label("R-12", "1100 g")),
    Did(
        *("04-14 09:20", "V2", "standing pressure"),
        typed={"pressure": "0 bar", **all_at("24 C"), "photo": "kept with the visit"},
    ),
    Did("04-14 09:40", "V2", "circuit opened", typed=OPENED),
    Did("04-14 13:00", "V2", "part in", typed={"part": "condenser", **NEW_PART}),
    Did("04-14 13:10", "V2", "circuit closed", typed=CAPPED),
    Did("04-14 14:30", "V2", "vacuum hold", typed={**VACUUM, "coldest": "24 C"}),
    Charged("04-14 15:10", "V2", "C-34", 16402, 15467, typed=target("935 g", "25 g")),
    Did("04-14 15:30", "V2", "conversion done", typed=CONVERTED),
    Also("04-14 16:00", "V2", "hand-over", typed=GIVEN),
)

# V3 should hold R-1234yf; an identifier shows R-134a in it
A_MIXTURE_IS_IDENTIFIED = (
    Received("05-06 08:00", "C-40"),
    Arrived(
        *("05-06 08:30", "V3", "weak cooling"),
        typed={"state": "runs", "says": "weak since a service elsewhere"},
    ),
    Did("05-06 08:45", "V3", "label read", typed=label("R-1234yf", "480 g")),
    Did(
        *("05-06 09:00", "V3", "identified"),
        typed={"result": "used", "instrument": "ID1", "shares": "R-1234yf 91.5, R-134a 8.0, air 0.5"},
    ),
)
THE_MIXTURE_IS_RECOVERED = (
    Recovered("05-06 10:00", "V3", "C-40", 5300, 5765, typed={**PULLED_DOWN, "coldest": "18 C"}),
)
IT_GETS_WHAT_IT_IS_BUILT_FOR = (
    Charged("05-06 11:30", "V3", "C-37", 6100, 5620, typed=target("480 g", "15 g", VAPOUR_LOW)),
    Also("05-06 12:10", "V3", "hand-over", typed=GIVEN),
)

# C-35 lost 180 g over a weekend; on Wednesday bubbles show where
A_READING_IS_SHORT = (Checked("06-16 08:05", "C-35", 11240),)
BUBBLES_EXPLAIN_IT = (Explained("06-18 10:20", 180, "Bubbles at the valve stem under soap; valve tightened."),)

# a city bus fills one cylinder and half of another
A_SECOND_CYLINDER_STANDS_READY = (Received("07-10 07:40", "C-42", 13600),)
A_BUS_ARRIVES = (
    Arrived("07-10 08:00", "V-BUS", "recover, replace compressor, charge", typed={"state": "runs"}),
    Did("07-10 08:20", "V-BUS", "label read", typed=label("R-134a", "7000 g", tolerance="100 g")),
)
THE_BUS_FILLS_ONE_CYLINDER = (
    Recovered(
        *("07-10 09:30", "V-BUS", "C-41", 15050, 17495),
        who=TRAINEE,
        answers=TECHNICIAN,
        typed={"stopped": "target full"},
    ),
)
THE_BUS_IS_EMPTIED_AND_CHARGED = (
    Recovered(
        *("07-10 11:00", "V-BUS", "C-42", 13600, 17925),
        who=TRAINEE,
        answers=TECHNICIAN,
        typed={
            "final_pressure": "0.50 bar absolute",
            "pressure_after_wait": "0.52 bar absolute",
            "coldest": "25 C",
            "oil_out": "60 mL",
            "waited": "5 min",
            "stopped": "done",
        },
    ),
    Charged("07-11 10:00", "V-BUS", "C-34", 15467, 8467, typed=target("7000 g", "100 g")),
    Also("07-11 12:00", "V-BUS", "hand-over", typed=GIVEN),
)


def a_repaired_car_is_charged(plate: str, day: str, before_g: int, after_g: int, mass: str) -> tuple[Event, ...]:
    """Return the visit of a car whose circuit was repaired elsewhere."""
    stood = {"pressure": "0 bar", **all_at("24 C"), "photo": "kept with the visit"}
    return (
        Arrived(f"{day} 08:30", plate, "charge after repair", typed={"state": "open to air"}),
        Also(f"{day} 09:00", plate, "standing pressure", typed=stood),
        Also(f"{day} 10:30", plate, "vacuum hold", typed={**VACUUM, "coldest": "24 C"}),
        Charged(f"{day} 11:00", plate, "C-34", before_g, after_g, typed=target(mass, "15 g")),
        Also(f"{day} 12:00", plate, "hand-over", typed=GIVEN),
    )


THREE_CARS_ARE_CHARGED = (
    *a_repaired_car_is_charged("V7", "08-05", 8467, 7857, "610 g"),
    *a_repaired_car_is_charged("V8", "08-12", 7857, 7272, "585 g"),
    *a_repaired_car_is_charged("V9", "08-21", 7272, 6622, "650 g"),
)
A_BOTTLE_GOES_BACK = (
    SentAway(
        *("09-01 09:00", "C-34", 6615, SUPPLIER, "return to supplier", "heel-returned", "PE-25-01"),
        remark="Back for its deposit.",
    ),
)
ANOTHER_BOTTLE_COMES = (Received("09-01 09:30", "C-44", 17205, origin="purchase", paper="HG-6107", paper_g=11_000),)

# S2 goes dark in the middle of a charge and is restarted
A_REPAIRED_CAR_STANDS_THERE = (
    Arrived("09-15 13:00", "V4", "charge after repair", typed={"state": "open to air"}),
    Also("09-15 13:30", "V4", "vacuum hold", typed={**VACUUM, "coldest": "19 C"}),
)
BY_THE_RESTARTED_SCALE = Charged("09-15 14:10", "V4", "C-44", 17196, 16642, True, typed=target("550 g", "15 g"))
THE_SCALE_FAILS = (
    BY_THE_RESTARTED_SCALE,
    Did(
        *("09-15 14:20", "V4", "interrupted"),
        typed={
            "why": "scale",
            "from": "2025-09-15 13:55",
            "to": "2025-09-15 14:10",
            "left": "valve shut, hose standing",
        },
    ),
    Also("09-15 19:00", "V4", "hand-over", typed=GIVEN),
)

# V5 by machine: recovered, recycled, charged
OUT_CLEANED_AND_BACK = (
    Arrived("10-07 09:00", "V5", "service", typed={"state": "runs"}),
    Did("10-07 09:05", "V5", "label read", typed=label("R-134a", "550 g", tolerance="15 g")),
    MachineRecovered(
        *("10-07 09:40", "V5", "T-1", 520, 6), typed={**PULLED_DOWN, "oil_out": "30 mL", "coldest": "19 C"}
    ),
    MachineCharged("10-07 10:30", "V5", "T-1", 545, typed={"target": "550 g", "tolerance": "15 g"}),
    Did(
        *("10-07 10:35", "V5", "oil balance"),
        typed={"out": "30 mL", "in": "40 mL", "type": "PAG 46", "why": "10 mL missing from the compressor"},
    ),
    Also("10-07 11:00", "V5", "hand-over", typed=GIVEN),
)

GAS_GOES_TO_BE_DESTROYED = (
    SentAway("11-20 09:00", "C-12", 10208, DESTROYER, "destruction", "sent-away", "PE-25-02"),
    Accepted("12-05 09:00", 3290, 68, "2025-12-04", "ND-7741"),
)

# V1 after 274 days: a leak is found and repaired
WEAK_GAS_IS_RECOVERED = (
    Arrived("12-02 08:30", "V1", "top up", typed={"state": "runs", "says": "cools less than in summer"}),
    Recovered("12-02 09:30", "V1", "C-35", 11240, 11880, typed={**PULLED_DOWN, "coldest": "15 C"}),
)
THE_REMAINDER_IS_SETTLED = (
    Settled(
        *("12-02 09:45", "V1", 9, 5081, 135),
        typed={"evidence": "C: leak found and photographed after recovery"},
    ),
)
THE_LEAK_IS_REPAIRED = (
    Did(
        *("12-02 10:15", "V1", "leak search"),
        typed={**SEARCHED, "pressure": "4 bar", "leaking": "1", "where": "high-side port core"},
    ),
    Did(
        *("12-02 10:40", "V1", "repair"),
        typed={"joint": "high-side service port", "what": "valve core and cap renewed"},
    ),
    Did("12-02 11:40", "V1", "vacuum hold", typed={**VACUUM, "coldest": "17 C"}),
)
IT_IS_CHARGED_ANEW = (
    Charged("12-02 12:20", "V1", "C-44", 16640, 15870, typed=target("765 g", "25 g")),
    Also("12-02 13:00", "V1", "hand-over", typed=GIVEN),
)

A_WRONG_GAS_IS_FOUND = (*A_MIXTURE_IS_IDENTIFIED, *THE_MIXTURE_IS_RECOVERED, *IT_GETS_WHAT_IT_IS_BUILT_FOR)
A_WEEKEND_LOSS = (*A_READING_IS_SHORT, *BUBBLES_EXPLAIN_IT)
A_BUS_AND_A_FULL_CYLINDER = (
    *A_SECOND_CYLINDER_STANDS_READY,
    *A_BUS_ARRIVES,
    *THE_BUS_FILLS_ONE_CYLINDER,
    *THE_BUS_IS_EMPTIED_AND_CHARGED,
)
A_CAR_COMES_BACK_WEAK = (
    *WEAK_GAS_IS_RECOVERED,
    *THE_REMAINDER_IS_SETTLED,
    *THE_LEAK_IS_REPAIRED,
    *IT_IS_CHARGED_ANEW,
)
YEAR: tuple[Event, ...] = (
    *OPENING,
    *A_BOTTLE_COMES,
    *A_FULL_CAR_IS_CONVERTED,
    *A_CAR_ARRIVES_EMPTY,
    *A_WRONG_GAS_IS_FOUND,
    *A_WEEKEND_LOSS,
    *A_BUS_AND_A_FULL_CYLINDER,
    *THREE_CARS_ARE_CHARGED,
    *A_BOTTLE_GOES_BACK,
    *ANOTHER_BOTTLE_COMES,
    *A_REPAIRED_CAR_STANDS_THERE,
    *THE_SCALE_FAILS,
    *OUT_CLEANED_AND_BACK,
    *GAS_GOES_TO_BE_DESTROYED,
    *A_CAR_COMES_BACK_WEAK,
)
