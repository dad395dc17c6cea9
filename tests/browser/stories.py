"""What three workshops type, from the first page to the statement: answers by the labels of their fields.

The figures are what such displays show: steps of 0.02 lb or 5 g, gauges in psi or bar, vacuum gauges in micron or mbar.
People, plates and papers are invented. A figure is a text; with a unit that is not the one preset, a pair.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field

from .hand import Ago, Answer, Below, Photos, Rows

Answers = Mapping[str, Answer]
Steps = tuple[tuple[str, Answers], ...]


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
_DRAWN: Answers = {"Drawn as": "vapour", "Bottle stood": "upright", "Into the": "low side", "Engine": "running"}

UNITED_STATES = Story(
    zone="America/Chicago",
    place="Chicago",
    owner="Dana Whitlock",
    workshop={
        "Name of the workshop": "Tallgrass Auto Air",
        "Whose rules": "United States",
        "Address": "14 Mill Road, Ransom Creek",
        "Height above the sea": ("820", "ft"),
    },
    scale={"What it is called": "S1", "Its step": "0.02", "What it carries": "220"},
    certificate={"What it is": "Section 609", "Its number": "TS-118204"},
    gauges=(
        {"What it is called": "G1", "Kind": "pressure gauge", "Its step": "1 psi"},
        {"What it is called": "M1", "Kind": "vacuum gauge", "Its step": "1 micron"},
    ),
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
        (
            "label read",
            {
                "Label": "label read",
                "Refrigerant on the label": "R-12",
                "Mass on the label": ("2", "lb and oz", "0"),
                "Tolerance, plus or minus": "1",
                "Lubricant on the label": "mineral oil, 500 SUS",
                "Where it was read": "under the hood",
            },
        ),
        (
            "ports seen",
            {
                "High-side port": _SCREW,
                "Low-side port": _SCREW,
                "Adapters on the ports": "no",
                "Signs of a conversion": "none seen",
                "Leak-stop additive": "none seen",
            },
        ),
        (
            "standing pressure",
            {
                "Pressure on the gauge": "72",
                "Gauge": "G1",
                "Air temperature": "72",
                "Coldest part measured": "71",
                "Warmest part measured": "73",
                "Time since it ran": ("3", "h"),
            },
        ),
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
        ("circuit opened", {"What was opened": "drier lines", "Pressure relieved before": "yes"}),
        (
            "part taken out",
            {"Part": "receiver drier", "Oil found in it": ("0.5", "fl oz"), "Type of that oil": "mineral"},
        ),
        (
            "part fitted",
            {
                **_DRIER,
                "Maker’s number": "RD-7714",
                "Oil put in": ("1", "fl oz"),
                "Type of that oil": "ester 100",
            },
        ),
        ("circuit closed", {"What was closed": "drier lines", "Ends capped while it was open": "yes"}),
        (
            "pressure hold",
            {
                **_NITROGEN,
                "Allowed pressure of the weakest side": "300",
                "Readings": Rows((("0", "250", "72"), ("20", "250", "73"))),
                "Gauge": "G1",
            },
        ),
        (
            "leak search",
            {
                "Method": "bubbles",
                "Smallest leak it shows": "50",
                "Gas inside": "dry nitrogen",
                "Pressure inside": "250",
                "Joints looked at": "10",
                "Joints leaking": "0",
            },
        ),
        (
            "pulling vacuum",
            {
                "Pump": "two-stage",
                "Gauge": "M1",
                "Started at": Ago(50),
                "Ended at": Ago(12),
                "Lowest reading": "350",
            },
        ),
        (
            "vacuum hold",
            {
                "Readings": Rows((("0", "350"), ("5", "420"), ("10", "450"))),
                "Coldest part": "70",
                "Gauge": "M1",
                "The gauge reads": "absolute",
            },
        ),
        (
            "oil balance",
            {"Oil out in all": ("1", "fl oz"), "Oil in in all": ("1", "fl oz"), "Type of oil": "ester 100"},
        ),
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
    charged={
        "Gross before": "36.42",
        "Gross after": "34.72",
        "Scale": "S1",
        "Target": "27",
        "Tolerance, plus or minus": "1",
        **_DRAWN,
        "Hose at the end": "pulled empty",
    },
    after=(
        (
            "running test",
            {
                "Air temperature": "78",
                "Humidity of the air": "45",
                "Low-side pressure": "32",
                "High-side pressure": "195",
                "Vent temperature": "44",
                "Engine speed": "1500",
                "Fan": "high",
                "Recirculation on": "yes",
            },
        ),
        ("search with the charge in", {"Joints and ports rechecked": "10", "Leaking": "0", "Caps fitted": "yes"}),
    ),
    hand_over={
        "Documents given": "visit record, conversion label",
        "When to look again": "in 12 months",
        "Signed by the customer": "yes",
    },
    papers=("Issue the visit record", "Issue the conversion label"),
    seen={
        "label read": ("R-12, 2 lb 0",),
        "standing pressure": ("72 psi gauge",),
        "recovery": ("Recovered 1 lb 15.0 oz R-12",),
        "pressure hold": ("250 psi gauge at 72", "in 20 min"),
        "vacuum hold": ("350 micron to 450 micron in 10 min",),
        "conversion": ("Converted from R-12 to R-134a",),
        "charge": ("Charged 1 lb 11.2 oz R-134a", "target 27 oz"),
    },
    on_paper=("Out: 1.940 lb", "In: 1.700 lb"),
    in_statement=("All refrigerants, lb", "recovered R-12 +1.940 R-134a none", "charged R-12 none R-134a −1.700"),
    held=("R-12 recovered 1.940 lb", "R-134a virgin 28.320 lb"),
    photos=1,
)

EUROPEAN_UNION = Story(
    zone="Europe/Berlin",
    place="Berlin",
    owner="Ilse Marten",
    workshop={
        "Name of the workshop": "Kfz-Halle Uhlenbrook",
        "Whose rules": "European Union",
        "Address": "Am Deich 3, Uhlenbrook",
    },
    scale={"What it is called": "W1", "Its step": "5", "What it carries": "100"},
    certificate={"What it is": "(EC) 307/2008", "Its number": "SK-2041"},
    gauges=(
        {"What it is called": "G1", "Kind": "pressure gauge", "Its step": "0.1 bar"},
        {"What it is called": "V1", "Kind": "vacuum gauge", "Its step": "0.1 mbar"},
        {"What it is called": "D1", "Kind": "leak detector", "Its step": "3 g a year"},
        {"What it is called": "A1", "Kind": "identifier"},
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
        (
            "label read",
            {
                "Label": "label read",
                "Refrigerant on the label": "R-134a",
                "Mass on the label": "520",
                "Tolerance, plus or minus": "20",
                "Lubricant on the label": "PAG 46",
                "Where it was read": "on the front panel",
            },
        ),
        (
            "ports seen",
            {
                "High-side port": _COUPLER,
                "Low-side port": _COUPLER,
                "Adapters on the ports": "no",
                "Signs of a conversion": "none seen",
                "Leak-stop additive": "none seen",
            },
        ),
        (
            "standing pressure",
            {
                "Pressure on the gauge": "4.6",
                "Gauge": "G1",
                "Air temperature": "20",
                "Coldest part measured": "19.5",
                "Warmest part measured": "20.5",
                "Photo of the gauge": Photos(2),
                "Time since it ran": ("2", "h"),
            },
        ),
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
        ("circuit opened", {"What was opened": "condenser lines", "Pressure relieved before": "yes"}),
        ("part taken out", {"Part": "condenser", "Oil found in it": "20", "Type of that oil": "PAG 46"}),
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
        ("circuit closed", {"What was closed": "condenser lines", "Ends capped while it was open": "yes"}),
        (
            "pressure hold",
            {
                **_NITROGEN,
                "Allowed pressure of the weakest side": "15",
                "Readings": Rows((("0", "10.0", "20.0"), ("15", "10.0", "20.0"), ("30", "10.0", "20.1"))),
                "Gauge": "G1",
            },
        ),
        (
            "leak search",
            {
                "Method": "bubbles",
                "Smallest leak it shows": "50",
                "Gas inside": "dry nitrogen",
                "Pressure inside": "10",
                "Joints looked at": "11",
                "Joints leaking": "0",
            },
        ),
        (
            "pulling vacuum",
            {
                "Pump": "two-stage, 70 L/min",
                "Gauge": "V1",
                "Started at": Ago(60),
                "Ended at": Ago(25),
                "Lowest reading": "1.5",
            },
        ),
        (
            "vacuum hold",
            {
                "Readings": Rows((("0", "1.5"), ("10", "1.8"), ("20", "1.9"))),
                "Coldest part": "19",
                "Gauge": "V1",
                "The gauge reads": "absolute",
            },
        ),
        ("oil balance", {"Oil out in all": "25", "Oil in in all": "30", "Type of oil": "PAG 46"}),
    ),
    charged={
        "Gross before": "19.155",
        "Gross after": "18.630",
        "Scale": "W1",
        "Target": "520",
        "Tolerance, plus or minus": "20",
        **_DRAWN,
        "Hose at the end": "pulled empty",
    },
    after=(
        (
            "running test",
            {
                "Air temperature": "24",
                "Humidity of the air": "50",
                "Low-side pressure": "2.1",
                "High-side pressure": "13.5",
                "Vent temperature": "7",
                "Engine speed": "1500",
                "Fan": "high",
                "Recirculation on": "yes",
            },
        ),
        (
            "search with the charge in",
            {"Joints and ports rechecked": "11", "Leaking": "0", "Instrument": "D1", "Caps fitted": "yes"},
        ),
    ),
    hand_over={
        "Documents given": "visit record",
        "When to look again": "next spring",
        "Signed by the customer": "yes",
    },
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
    workshop={
        "Name of the workshop": "Neem Street Cooling",
        "Whose rules": "India",
        "Address": "21 Neem Street, Dhanpur",
        "Height above the sea": "560",
    },
    scale={"What it is called": "S1", "Its step": "5", "What it carries": "50"},
    certificate={"What it is": "Servicing of mobile air conditioning, course", "Its number": "MAC 331"},
    gauges=(
        {"What it is called": "G1", "Kind": "pressure gauge", "Its step": "1 psi"},
        {"What it is called": "M1", "Kind": "vacuum gauge", "Its step": "10 micron"},
    ),
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
        (
            "label read",
            {
                "Label": "label read",
                "Refrigerant on the label": "R-134a",
                "Mass on the label": "600",
                "Lubricant on the label": "PAG 100",
                "Where it was read": "on the bonnet",
            },
        ),
        (
            "ports seen",
            {
                "High-side port": _COUPLER,
                "Low-side port": _COUPLER,
                "Adapters on the ports": "no",
                "Signs of a conversion": "none seen",
                "Leak-stop additive": "seen",
            },
        ),
        (
            "standing pressure",
            {
                "Pressure on the gauge": ("99", "psi"),
                "Gauge": "G1",
                "Air temperature": "31",
                "Coldest part measured": "30",
                "Warmest part measured": "32",
                "Time since it ran": "90",
            },
        ),
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
        ("circuit opened", {"What was opened": "expansion valve", "Pressure relieved before": "yes"}),
        ("part taken out", {"Part": "expansion valve", "Oil found in it": "0", "Type of that oil": "PAG 100"}),
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
        ("circuit closed", {"What was closed": "expansion valve", "Ends capped while it was open": "yes"}),
        (
            "pressure hold",
            {
                **_NITROGEN,
                "Allowed pressure of the weakest side": ("250", "psi"),
                "Readings": Rows((("0", "200 psi", "31"), ("20", "200 psi", "31"))),
                "Gauge": "G1",
            },
        ),
        (
            "leak search",
            {
                "Method": "bubbles",
                "Smallest leak it shows": "50",
                "Gas inside": "dry nitrogen",
                "Pressure inside": ("200", "psi"),
                "Joints looked at": "10",
                "Joints leaking": "0",
            },
        ),
        (
            "pulling vacuum",
            {
                "Pump": "single-stage",
                "Gauge": "M1",
                "Started at": Ago(65),
                "Ended at": Ago(20),
                "Lowest reading": ("600", "micron"),
            },
        ),
        (
            "vacuum hold",
            {
                "Readings": Rows((("0", "600 micron"), ("5", "700 micron"), ("15", "760 micron"))),
                "Coldest part": "29",
                "Gauge": "M1",
                "The gauge reads": "absolute",
            },
        ),
        ("oil balance", {"Oil out in all": "10", "Oil in in all": "10", "Type of oil": "PAG 100"}),
    ),
    charged={
        "Gross before": "16.510",
        "Gross after": "15.910",
        "Scale": "S1",
        "Target": "600",
        "Tolerance, plus or minus": "25",
        **_DRAWN,
        "Hose at the end": "pulled empty",
    },
    after=(
        (
            "running test",
            {
                "Air temperature": "34",
                "Humidity of the air": "60",
                "Low-side pressure": ("38", "psi"),
                "High-side pressure": ("240", "psi"),
                "Vent temperature": "11",
                "Engine speed": "1500",
                "Fan": "high",
                "Recirculation on": "yes",
            },
        ),
        ("search with the charge in", {"Joints and ports rechecked": "10", "Leaking": "0", "Caps fitted": "yes"}),
    ),
    hand_over={
        "Documents given": "visit record",
        "When to look again": "before the next summer",
        "Signed by the customer": "yes",
    },
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
