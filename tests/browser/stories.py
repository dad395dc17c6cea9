"""What three workshops type, from the first page to the statement: answers by the labels of their fields.

The figures are what such displays show: steps of 0.02 lb or 5 g, gauges in psi or bar, vacuum gauges in micron or mbar.
People, plates and papers are invented. A figure is a text; with a unit that is not the one preset, a pair.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field, replace

from .hand import Ago, Answer, Below, Photos, Rows

Answers = Mapping[str, Answer]
Step = tuple[str, Answers]
Steps = tuple[Step, ...]


@dataclass(frozen=True)
class Story:
    """One workshop and one car; the steps come before the recovery, between it and the charge, and after that."""

    zone: str
    place: str  # of the time zone, as its list has it
    owner: str
    workshop: Answers
    scale: Answers
    certificate: Answers
    gauges: tuple[Answers, ...]  # the first is entered when the standing pressure asks for it
    supplier: str
    bought_as: str  # the kind of cylinder, by the words to press
    bought: Answers
    arrival: Answers
    before: Steps
    empty: Answers  # the cylinder that is brought in for the recovery
    recovered: Answers
    between: Steps
    charged: Answers
    after: Steps
    hand_over: Answers
    papers: tuple[str, ...]  # to issue, by the words of their links
    on_label: Answers = field(default_factory=dict, kw_only=True)  # what the label asks that nobody had entered
    seen: Mapping[str, tuple[str, ...]]  # what the log says after a step
    on_paper: tuple[str, ...]
    in_statement: tuple[str, ...]
    held: tuple[str, ...]  # on the first page, at the end
    slips: Answers = field(default_factory=dict)  # typed into the recovery first, for what is typed then
    photos: int = 0  # seen on the visit's page at the end
    inside: Answers = field(default_factory=dict)  # what is known of the inside volume
    same_plate: str = ""  # how the plate is typed when the car comes again


_SCREW = "R-12 screw"
_COUPLER = "R-134a quick coupler"
_NITROGEN: Answers = {"Gas": "dry nitrogen", "Regulator and relief valve fitted": "yes"}
_DRIER: Answers = {"Part": "receiver drier", "Condition": "new", "Seal material": "HNBR"}
_DRAWN: Answers = {"Drawn as": "vapour", "Bottle stood": "upright", "Charged into": "low side", "Engine": "running"}


def _workshop(name: str, rules: str, address: str, height: Answer | None = None) -> Answers:
    known = {"Name of the workshop": name, "Whose rules": rules, "Address": address}
    return known if height is None else {**known, "Height above the sea": height}


def _gauge(name: str, kind: str, step: str = "") -> Answers:
    return {"What it is called": name, "Kind": kind, **({"Smallest step it shows": step} if step else {})}


def _label(code: str, mass: Answer, oil: str, where: str, tolerance: str = "") -> Step:
    most = {"Label": "label read", "Refrigerant on the label": code, "Mass on the label": mass}
    wide = {"Tolerance, plus or minus": tolerance} if tolerance else {}
    return "label read", {**most, **wide, "Lubricant on the label": oil, "Where it was read": where}


def _ports(both: str, leak_stop: str = "none seen") -> Step:
    seen = {"High-side port": both, "Low-side port": both, "Adapters on the ports": "no"}
    return "ports seen", {**seen, "Signs of a conversion": "none seen", "Leak-stop additive": leak_stop}


def _stood(pressure: Answer, air: str, coldest: str, warmest: str, since: Answer, photos: int = 0) -> Step:
    read = {"Pressure on the gauge": pressure, "Gauge": "G1", "Air temperature": air}
    parts = {"Coldest part measured": coldest, "Warmest part measured": warmest}
    shown = {"Photo of the gauge": Photos(photos)} if photos else {}
    return "standing pressure", {**read, **parts, **shown, "Time since it ran": since}


def _opened(what: str) -> Step:
    return "circuit opened", {"What was opened": what, "Pressure relieved before": "yes"}


def _out(part: str, oil: Answer, of: str) -> Step:
    return "part taken out", {"Part": part, "Oil found in it": oil, "Type of that oil": of}


def _closed(what: str) -> Step:
    return "circuit closed", {"What was closed": what, "Ends capped while it was open": "yes"}


def _held(allowed: Answer, *readings: tuple[str, str, str]) -> Step:
    limit = {"Allowed pressure of the weakest side": allowed}
    return "pressure hold", {**_NITROGEN, **limit, "Readings": Rows(readings), "Gauge": "G1"}


def _searched(pressure: Answer, joints: str) -> Step:
    way = {"Method": "bubbles", "Smallest leak it shows": "50", "Gas inside": "dry nitrogen"}
    return "leak search", {**way, "Pressure inside": pressure, "Joints looked at": joints, "Joints leaking": "0"}


def _pumped(pump: str, gauge: str, began: int, ended: int, lowest: Answer) -> Step:
    times = {"Started at": Ago(began), "Ended at": Ago(ended)}
    return "pulling vacuum", {"Pump": pump, "Gauge": gauge, **times, "Lowest reading": lowest}


def _rose(gauge: str, coldest: str, *readings: tuple[str, str]) -> Step:
    where = {"Coldest part": coldest, "Gauge": gauge}
    return "vacuum hold", {"Readings": Rows(readings), **where, "The gauge reads": "absolute"}


def _oil(out: Answer, into: Answer, of: str) -> Step:
    return "oil balance", {"Oil out in all": out, "Oil in in all": into, "Type of oil": of}


def _charged(before: str, after: str, scale: str, target: str, tolerance: str) -> Answers:
    read = {"Gross before": before, "Gross after": after, "Scale": scale}
    aim = {"Target": target, "Tolerance, plus or minus": tolerance}
    return {**read, **aim, **_DRAWN, "Hose at the end": "pulled empty"}


def _ran(air: str, humidity: str, low: Answer, high: Answer, vent: str) -> Step:
    weather = {"Air temperature": air, "Humidity of the air": humidity}
    read = {"Low-side pressure": low, "High-side pressure": high, "Vent temperature": vent}
    return "running test", {**weather, **read, "Engine speed": "1500", "Fan": "high", "Recirculation on": "yes"}


def _searched_again(joints: str, detector: str = "") -> Step:
    by = {"Instrument": detector} if detector else {}
    seen = {"Joints and ports rechecked": joints, "Leaking": "0"}
    return "search with the charge in", {**seen, **by, "Caps fitted": "yes"}


def _hand_over(papers: str, again: str) -> Answers:
    return {"Documents given": papers, "When to look again": again, "Signed by the customer": "yes"}


UNITED_STATES = Story(
    zone="America/Chicago",
    place="Chicago",
    owner="Dana Whitlock",
    workshop=_workshop("Tallgrass Auto Air", "United States", "14 Mill Road, Ransom Creek", ("820", "ft")),
    scale={"What it is called": "S1", "Smallest step it shows": "0.02", "Most it carries": "220"},
    certificate={"What it is": "Section 609", "Its number": "TS-118204"},
    gauges=(_gauge("G1", "pressure gauge", "1 psi"), _gauge("M1", "vacuum gauge", "1 micron")),
    supplier="Prairie Gas Supply",
    bought_as="Single-trip cylinder",
    bought={
        "Number on it": "B-7731",
        "What is in it": "R-134a",
        "Empty mass": "6.40",
        "Gross now": "36.42",
        "Mass on the paper": "30",
        "Number of the paper": "INV 20417",
    },
    arrival={
        "Plate": "kx4471",
        "Odometer": "148220 miles",
        "What the customer says": "Blows warm; wants it on the new gas",
        "State on arrival": "warm",
    },
    before=(
        _label("R-12", ("2 0", "lb and oz"), "mineral oil, 500 SUS", "under the hood", tolerance="1"),
        _ports(_SCREW),
        _stood("72", "72", "71", "73", ("3", "h")),
        ("identification", {"Identifier": "none here"}),
    ),
    empty={"Number on it": "R12-REC", "Empty mass": "13.36", "Water capacity": ("26.2", "lb")},
    recovered={
        "Gross before": "13.36",
        "Gross after": "15.30",
        "Scale": "S1",
        "Started at": Ago(30),
        "Engine run before": "yes",
        "Heat used": "no",
        "Pressure when it stopped": Below("18", "inHg"),
        "Waited": "5",
        "Pressure after the wait": Below("15", "inHg"),
        "Coldest part then": "70",
        "Oil that came out": ("0.5", "fl oz"),
        "Why it stopped": "done",
    },
    between=(
        _opened("drier lines"),
        _out("receiver drier", ("0.5", "fl oz"), "mineral"),
        (
            "part fitted",
            {**_DRIER, "Maker’s number": "RD-7714", "Oil put in": ("1", "fl oz"), "Type of that oil": "ester 100"},
        ),
        _closed("drier lines"),
        _held("300", ("0", "250", "72"), ("20", "250", "73")),
        _searched("250", "10"),
        _pumped("two-stage", "M1", 50, 12, "350"),
        _rose("M1", "70", ("0", "350"), ("5", "420"), ("10", "450")),
        _oil(("1", "fl oz"), ("1", "fl oz"), "ester 100"),
        (
            "conversion",
            {
                "Now for": "R-134a",
                "Fitting, high side": "quick coupler, high",
                "Fitting, low side": "quick coupler, low",
                "Hoses": "barrier hoses, new seals",
                "Cut-out switch": "fitted",
                "Lubricant, type and amount": "ester 100, 1 fl oz",
                "Drier": "new",
                "Old label covered": "yes",
                "Photo of the new label": Photos(1),
            },
        ),
    ),
    charged=_charged("36.42", "34.72", "S1", "27", "1"),
    after=(_ran("78", "45", "32", "195", "44"), _searched_again("10")),
    hand_over=_hand_over("visit record, conversion label", "in 12 months"),
    papers=("Issue the visit record", "Issue the conversion label"),
    on_label={"Trade name of the refrigerant": "R-134a", "Maker of the lubricant": "Quay Oils"},
    seen={
        "label read": ("R-12, 2 lb 0",),
        "standing pressure": ("72 psi gauge",),
        "recovery": ("Recovered 1 lb 15.0 oz R-12",),
        "pressure hold": ("250 psi gauge at 72", "in 20 min"),
        "vacuum hold": ("350 micron to 450 micron in 10 min",),
        "conversion": ("Converted from R-12 to R-134a",),
        "charge": ("Charged 1 lb 11.2 oz R-134a", "target 1 lb 11.0 oz"),
    },
    on_paper=("Out: 1 lb 15.0 oz (880 g)", "In: 1 lb 11.2 oz (771 g)"),
    in_statement=(
        "Stock of cylinders and rigs, lb and oz",
        "R-12 at the start 0 lb 0.0 oz came in +1 lb 15.0 oz",
        "went out −1 lb 11.2 oz unexplained 0 lb 0.0 oz at the end 28 lb 5.1 oz",
    ),
    held=("R-12 recovered 1 lb 15.0 oz", "R-134a virgin 28 lb 5.1 oz"),
    photos=1,
)

EUROPEAN_UNION = Story(
    zone="Europe/Berlin",
    place="Berlin",
    owner="Ilse Marten",
    workshop=_workshop("Kfz-Halle Uhlenbrook", "European Union", "Am Deich 3, Uhlenbrook"),
    scale={"What it is called": "W1", "Smallest step it shows": "5", "Most it carries": "100"},
    certificate={"What it is": "(EC) 307/2008", "Its number": "SK-2041"},
    gauges=(
        _gauge("G1", "pressure gauge", "0.1 bar"),
        _gauge("V1", "vacuum gauge", "0.1 mbar"),
        _gauge("D1", "leak detector", "3 g a year"),
        _gauge("A1", "identifier"),
    ),
    supplier="Gas-Kontor Elmhagen",
    bought_as="Refillable cylinder",
    bought={
        "Number on it": "F-2209",
        "What is in it": "R-134a",
        "Empty mass": "7.150",
        "Water capacity": "13.1",
        "Gross now": "19.155",
        "Mass on the paper": "12",
        "Number of the paper": "L 88-104",
    },
    arrival={
        "Plate": "UB-KL 480",
        "Odometer": "96 400 km",
        "What the customer says": "Loses its cold over a summer",
        "State on arrival": "runs",
    },
    before=(
        _label("R-134a", "520", "PAG 46", "on the front panel", tolerance="20"),
        _ports(_COUPLER),
        _stood("4.6", "20", "19.5", "20.5", ("2", "h"), photos=2),
        (
            "identification",
            {"Identifier": "used", "Instrument": "A1", "What it showed, in per cent by mass": "R-134a 99.6, air 0.4"},
        ),
    ),
    slips={"Gross before": "83.55"},
    same_plate="ubkl480",
    empty={"Number on it": "R-0417", "Empty mass": "8.355", "Water capacity": "12"},
    recovered={
        "Gross before": "8.355",
        "Gross after": "8.850",
        "Scale": "W1",
        "Started at": Ago(40),
        "Engine run before": "yes",
        "Heat used": "no",
        "Pressure when it stopped": Below("0.6", "bar"),
        "Waited": "10",
        "Pressure after the wait": Below("0.5", "bar"),
        "Coldest part then": "19",
        "Oil that came out": "5",
        "Why it stopped": "done",
    },
    between=(
        _opened("condenser lines"),
        _out("condenser", "20", "PAG 46"),
        (
            "part fitted",
            {
                **_DRIER,
                "Part": "condenser with drier",
                "Maker’s number": "KD 5502",
                "Oil put in": "30",
                "Type of that oil": "PAG 46",
            },
        ),
        _closed("condenser lines"),
        _held("15", ("0", "10.0", "20.0"), ("15", "10.0", "20.0"), ("30", "10.0", "20.1")),
        _searched("10", "11"),
        _pumped("two-stage, 70 L/min", "V1", 60, 25, "1.5"),
        _rose("V1", "19", ("0", "1.5"), ("10", "1.8"), ("20", "1.9")),
        _oil("25", "30", "PAG 46"),
    ),
    charged=_charged("19.155", "18.630", "W1", "520", "20"),
    after=(_ran("24", "50", "2.1", "13.5", "7"), _searched_again("11", detector="D1")),
    hand_over=_hand_over("visit record", "next spring"),
    papers=("Issue the visit record", "Issue the recovery certificate"),
    seen={
        "label read": ("R-134a, 0.520 kg",),
        "standing pressure": ("4.6 bar gauge",),
        "recovery": ("Recovered 0.495 kg R-134a",),
        "pressure hold": ("10.0 bar gauge at 20.0 C to 10.0 bar gauge at 20.1 C in 30 min",),
        "vacuum hold": ("1.5 mbar absolute to 1.9 mbar absolute in 20 min",),
        "charge": ("Charged 0.525 kg R-134a", "target 520 g"),
    },
    on_paper=("Out: 495 g", "In: 525 g"),
    in_statement=("R-134a, kg", "Recovered R-134a +0.495", "Charged R-134a −0.525"),
    held=("R-134a recovered 0.495 kg", "R-134a virgin 11.480 kg"),
    photos=2,
)

INDIA = Story(
    zone="Asia/Kolkata",
    place="Kolkata",
    owner="Meenal Rao",
    workshop=_workshop("Neem Street Cooling", "India", "21 Neem Street, Dhanpur", "560"),
    scale={"What it is called": "S1", "Smallest step it shows": "5", "Most it carries": "50"},
    certificate={"What it is": "Servicing of mobile air conditioning, course", "Its number": "MAC 331"},
    gauges=(_gauge("G1", "pressure gauge", "1 psi"), _gauge("M1", "vacuum gauge", "10 micron")),
    supplier="Dhanpur Gas Agency",
    bought_as="Single-trip cylinder",
    bought={
        "Number on it": "DG 1182",
        "What is in it": "R-134a",
        "Empty mass": "2.900",
        "Gross now": "16.510",
        "Mass on the paper": "13.6",
        "Number of the paper": "DGA/204",
    },
    arrival={
        "Plate": "DP 05 K 3310",
        "Odometer": "81 260 km",
        "What the customer says": "Cools in the morning only",
        "State on arrival": "warm",
    },
    before=(
        _label("R-134a", "600", "PAG 100", "on the bonnet"),
        _ports(_COUPLER, "seen"),
        _stood(("99", "psi"), "31", "30", "32", "90"),
        ("identification", {"Identifier": "none here"}),
    ),
    inside={"Class": "van"},
    empty={"Number on it": "NS-R1", "Empty mass": "6.250", "Water capacity": "11.9"},
    recovered={
        "Gross before": "6.250",
        "Gross after": "6.690",
        "Scale": "S1",
        "Started at": Ago(35),
        "Engine run before": "yes",
        "Heat used": "no",
        "Pressure when it stopped": Below("20", "inHg"),
        "Waited": "5",
        "Pressure after the wait": Below("18", "inHg"),
        "Coldest part then": "29",
        "Oil that came out": "10",
        "Why it stopped": "done",
    },
    between=(
        _opened("expansion valve"),
        _out("expansion valve", "0", "PAG 100"),
        (
            "part fitted",
            {
                "Part": "expansion valve",
                "Condition": "new",
                "Maker’s number": "EV 17",
                "Seal material": "HNBR",
                "Oil put in": "10",
                "Type of that oil": "PAG 100",
            },
        ),
        _closed("expansion valve"),
        _held(("250", "psi"), ("0", "200 psi", "31"), ("20", "200 psi", "31")),
        _searched(("200", "psi"), "10"),
        _pumped("single-stage", "M1", 65, 20, ("600", "micron")),
        _rose("M1", "29", ("0", "600 micron"), ("5", "700 micron"), ("15", "760 micron")),
        _oil("10", "10", "PAG 100"),
    ),
    charged=_charged("16.510", "15.910", "S1", "600", "25"),
    after=(_ran("34", "60", ("38", "psi"), ("240", "psi"), "11"), _searched_again("10")),
    hand_over=_hand_over("visit record", "before the next summer"),
    papers=("Issue the visit record",),
    seen={
        "label read": ("R-134a, 0.600 kg",),
        "standing pressure": ("99 psi gauge",),
        "recovery": ("Recovered 0.440 kg R-134a",),
        "pressure hold": ("200 psi gauge at 31", "in 20 min"),
        "vacuum hold": ("600 micron to 760 micron in 15 min",),
        "charge": ("Charged 0.600 kg R-134a", "target 600 g"),
    },
    on_paper=("Out: 440 g", "In: 600 g"),
    in_statement=("R-134a, kg", "Recovered R-134a +0.440", "Charged R-134a −0.600"),
    held=("R-134a recovered 0.440 kg", "R-134a virgin 13.010 kg"),
)


def charge_only(story: Story) -> Story:
    """Return a workshop that weighs in pounds and ounces, and a car of R-134a that stands evacuated."""
    label = _label("R-134a", ("1 4", "lb and oz"), "ester 100", "under the hood", tolerance="1")
    pumped = _pumped("two-stage", "M1", 50, 12, "350")
    rose = _rose("M1", "70", ("0", "350"), ("5", "420"), ("10", "450"))
    scale = {**story.scale, "Smallest step it shows": ("0.5", "lb and oz")}
    bought = {**story.bought, "Gross now": ("36 6.5", "lb and oz")}
    return replace(story, scale=scale, bought=bought, before=(label, pumped, rose), seen={})
