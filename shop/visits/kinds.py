"""The closed list of the kinds of step, as data: what each is called, its fields, the cautions that stand with it.

Pure: no database. How a field is read, and what *required*, *asked* and *optional* mean, stands in `steps`; what is
still asked of a visit, in `asked`.
"""

from collections.abc import Sequence
from typing import Any

from shop.visits.spotcheck import AGREES, DIFFERS, SPOT_CHECK
from shop.visits.steps import ASKED, NO, OPEN_ON_ARRIVAL, OPTIONAL, REQUIRED, YES, StepField, StepKind


def _kind(name: str, done: str, *fields: StepField, words: str = "", **more: Any) -> StepKind:
    return StepKind(name, words or name, done, fields, **more)


def _yes(name: str, words: str, need: str = ASKED, **more: Any) -> StepField:
    return StepField(name, words, "yes-no", need, (YES, NO), **more)


def _choice(name: str, words: str, choices: Sequence[str], need: str = ASKED, **more: Any) -> StepField:
    return StepField(name, words, "choice", need, tuple(choices), **more)


_REFUSED_FLUSHES = dict.fromkeys(
    ("petrol", "gasoline", "diesel", "kerosene", "paraffin", "fuel", "spirit", "thinner", "brake cleaner", "degreaser"),
    "A fuel or degreaser is never a flush: it burns, and it ruins oil and seals. Use an agent made for it.",
)
_TIMES = "Times in minutes, with another unit (20 min, 1.5 h), or as 10:35."
_PORTS = ("R-12 screw", "R-134a quick coupler", "R-1234yf quick coupler", "other", "not there")
ONTO = ("part had leaked: it was topped up", "less was inside than the book says", "it holds more than its label now")
_STOPPED = ("done", "target full", "fault", "other refrigerant found")
_LABEL = ("label", ("label read",))
_USED = ("result", ("used",))
_BAROMETER = StepField(
    "barometer",
    "Barometer here, not reduced to sea level",
    "pressure",
    OPTIONAL,
    absolute=True,
    hint="The air’s own pressure now. Left out, it follows from the height above sea level",
)
_AS_THE_VISIT = "Left out, it is what the visit knows of it."
# What readings at a car are likely to be: common practice, no source. Outside is asked about, and can be insisted on.
_AIR_K = (243.15, 323.15)  # -30 to 50 C; 68 was meant as F
_PART_K = (243.15, 333.15)  # the coldest of them
_HOT_K = (243.15, 363.15)
_VENT_K = (258.15, 313.15)
_OIL_M3 = (0.0, 0.001)
_RECOVERED_PA = (1_000.0, 1.0e6)
_PUMPED_PA = (0.1, 20_000.0)
_WAITED_S = (0.0, 86_400.0)
_HELD = (101_325.0, 4.5e6)  # what a nitrogen hold may read: at most 45 bar; 250 bar was meant as psi

KINDS: tuple[StepKind, ...] = (
    _kind(
        "received",
        "Arrived",
        StepField("odometer", "Odometer", "distance"),
        StepField("says", "What the customer says", "long text"),
        _choice("state", "State on arrival", ("runs", "warm", *OPEN_ON_ARRIVAL, "accident", "unknown"), REQUIRED),
        StepField("photo", "Photo of the open circuit", "photo", only_if=("state", OPEN_ON_ARRIVAL)),
        words="arrival",
    ),
    _kind(
        "label read",
        "Label",
        _choice(
            "label", "Label", ("label read", "no label", "cannot be read"), REQUIRED, hint="No label is an answer too."
        ),
        StepField("refrigerant", "Refrigerant on the label", "refrigerant", only_if=_LABEL),
        StepField("mass", "Mass on the label", "mass", only_if=_LABEL),
        StepField("tolerance", "Tolerance, plus or minus", "mass", OPTIONAL, only_if=_LABEL),
        StepField("lubricant", "Lubricant on the label", "text", only_if=_LABEL),
        StepField("where", "Where it was read", "text", only_if=_LABEL),
        shows="label",
    ),
    _kind(
        "ports seen",
        "Ports",
        _choice("high", "High-side port", _PORTS, REQUIRED),
        _choice("low", "Low-side port", _PORTS, REQUIRED),
        _yes("adapters", "Adapters on the ports"),
        StepField("conversion_signs", "Signs of a conversion", "text", hint="None seen is an answer too."),
        _choice("leak_stop", "Leak-stop additive", ("none seen", "seen", "test: none", "test: there is some")),
        cautions=("ports-seen",),
    ),
    _kind(
        "standing pressure",
        "Standing pressure",
        StepField("pressure", "Pressure on the gauge", "pressure", REQUIRED, known=(1_000.0, 4.0e6)),
        StepField("gauge", "Gauge", "instrument", instruments=("pressure gauge",)),
        StepField("air", "Air temperature", "temperature", known=_AIR_K),
        StepField("coldest", "Coldest part measured", "temperature", known=_PART_K, not_above="warmest"),
        StepField("warmest", "Warmest part measured", "temperature", known=_HOT_K),
        StepField("since_running", "Time since it ran", "duration"),
        _choice("empty", "It arrived empty", (NO, YES), OPTIONAL, hint="Only where nothing stands above the air."),
        StepField("photo", "Photo of the gauge", "photo", OPTIONAL),
        cautions=("standing-pressure",),
        lead="It names no gas by itself, and it is the best witness of what was inside.",
        shows="gauge",
    ),
    _kind(
        "identified",
        "Identified",
        _choice("result", "Identifier", ("used", "none here"), REQUIRED, hint="None here is an answer too."),
        StepField("instrument", "Instrument", "instrument", instruments=("identifier",), only_if=("result", ("used",))),
        StepField(
            "shares",
            "What it showed, in per cent by mass",
            "shares",
            only_if=_USED,
            hint="Such as: R-134a 99.2, air 0.8",
        ),
        words="identification",
        cautions=("identified", "flammable"),
        lead="Below 98 % of one refrigerant it is suspect, and goes into a cylinder of its own.",
    ),
    _kind(
        "recovery",
        "Recovered",
        StepField("start", "Started at", "when"),
        _yes("engine_run", "Engine run before"),
        _yes("heat", "Heat used", hint="Warm water or warm air, never a flame"),
        StepField("final_pressure", "Pressure when it stopped", "pressure", known=_RECOVERED_PA),
        StepField("waited", "Waited", "duration", known=_WAITED_S),
        StepField("pressure_after_wait", "Pressure after the wait", "pressure", known=_RECOVERED_PA),
        StepField("coldest", "Coldest part then", "temperature", OPTIONAL, known=_PART_K),
        StepField("oil_out", "Oil that came out", "volume", known=_OIL_M3, hint="0 is an answer too."),
        _choice("stopped", "Why it stopped", _STOPPED, REQUIRED),
        cautions=("recovery", "recovery-slow"),
        posts=True,
        at="visit-recover",
        shows="gauge",
        certified=True,
    ),
    _kind(
        "remainder settled",
        "What was left",
        _choice(
            "evidence",
            "Evidence",
            (
                "A: standing pressure read and photographed, no liquid possible",
                "B: circuit visibly open, photographed",
                "C: leak found and photographed after recovery",
                "D: the customer’s word, or a reading without a photo",
                "E: nothing",
            ),
            REQUIRED,
        ),
        StepField("photo", "Photo of what shows it", "photo", OPTIONAL),
        words="what is left settled",
        posts=True,
        at="visit-step",
    ),
    _kind(
        "circuit opened",
        "Circuit opened",
        StepField("what", "What was opened", "text", REQUIRED),
        _yes("relieved", "Pressure relieved before"),
        cautions=("circuit-opened",),
        certified=True,
    ),
    _kind(
        "circuit closed",
        "Circuit closed",
        StepField("what", "What was closed", "text", REQUIRED),
        _yes("capped", "Ends capped while it was open"),
    ),
    _kind(
        "part out",
        "Part out",
        StepField("part", "Part", "text", REQUIRED),
        StepField("oil_found", "Oil found in it", "volume", known=_OIL_M3, hint="0 is an answer too."),
        StepField("oil_type", "Type of that oil", "text", hint="Not known is an answer, and stays open."),
        words="part taken out",
    ),
    _kind(
        "part in",
        "Part in",
        StepField("part", "Part", "text", REQUIRED),
        _choice("condition", "Condition", ("new", "rebuilt", "used")),
        StepField("number", "Maker’s number", "text"),
        StepField("seal", "Seal material", "text"),
        StepField("oil_in", "Oil put in", "volume", known=_OIL_M3, hint="0 is an answer too."),
        StepField("oil_type", "Type of that oil", "text"),
        StepField("oil_found", "Oil found in it", "volume", OPTIONAL, known=_OIL_M3),
        words="part fitted",
    ),
    _kind(
        "flush",
        "Flushed",
        StepField("agent", "Agent", "text", REQUIRED, refused=_REFUSED_FLUSHES),
        _choice("driven", "How it was driven through", ("own pump", "nitrogen", "refrigerant machine", "other")),
        StepField("parts", "Parts flushed", "text"),
        StepField("dried", "How it was dried", "text"),
        StepField("waste", "Where the waste went", "text"),
        cautions=("flush",),
    ),
    _kind(
        "oil balance",
        "Oil",
        StepField("out", "Oil out in all", "volume", REQUIRED, known=_OIL_M3),
        StepField("in", "Oil in in all", "volume", REQUIRED, known=_OIL_M3),
        StepField("type", "Type of oil", "text", REQUIRED, hint="Not known is an answer, and stays open."),
        StepField("grade", "Grade", "text"),
        StepField("maker", "Maker’s figure for the whole system", "volume", known=_OIL_M3),
        StepField("why", "Why more or less went in than came out", "text", unless_equal=("out", "in")),
    ),
    _kind(
        "high voltage isolated",
        "High voltage isolated",
        StepField("by", "By whom", "person", REQUIRED),
        StepField("method", "How", "text", REQUIRED),
        _yes("dead", "Measured to be dead", REQUIRED),
        cautions=("electric",),
    ),
    _kind(
        "pressure hold",
        "Pressure hold",
        _choice("gas", "Gas", ("dry nitrogen", "nitrogen with hydrogen"), REQUIRED),
        StepField("allowed", "Allowed pressure of the weakest side", "pressure", known=_HELD),
        _yes("relief", "Regulator and relief valve fitted"),
        StepField("readings", "Readings", "readings", REQUIRED, known=_HELD, hint=_TIMES),
        StepField("volume", "Inside volume", "volume", OPTIONAL, hint=_AS_THE_VISIT),
        StepField("gauge", "Gauge", "instrument", instruments=("pressure gauge",)),
        StepField("thermometer", "Thermometer", "instrument", OPTIONAL, instruments=("thermometer",)),
        _BAROMETER,
        cautions=("pressure-hold",),
        lead="The first 10 to 15 minutes do not count: the gas warms, hoses stretch.",
        shows="gauge",
    ),
    _kind(
        "leak search",
        "Leak search",
        _choice(
            "method",
            "Method",
            ("electronic", "bubbles", "dye", "ultrasonic", "hydrogen detector", "by eye"),
            REQUIRED,
            hint="A flame torch is no method: it makes acid fumes.",
        ),
        StepField("instrument", "Instrument", "instrument", OPTIONAL, instruments=("leak detector",)),
        StepField("sensitivity", "Smallest leak it shows", "rate", unit="g a year"),
        _choice("gas", "Gas inside", ("refrigerant", "dry nitrogen", "nitrogen with hydrogen")),
        StepField("pressure", "Pressure inside", "pressure", known=(50_000.0, 4.5e6)),
        StepField("joints", "Joints looked at", "number", REQUIRED, unit="joints"),
        StepField("leaking", "Joints leaking", "number", REQUIRED, unit="joints", hint="0 is an answer too."),
        StepField("where", "Which joints leak", "text", OPTIONAL, hint="With a comma between two"),
        StepField("photo", "Photo of the leak", "photo", OPTIONAL),
        cautions=("leak-search",),
        lead="No leak found is always said with its limit.",
        shows="joint",
    ),
    _kind(
        "repair",
        "Repaired",
        StepField("joint", "Joint or part", "text", REQUIRED),
        StepField("what", "What was done", "text", REQUIRED),
        shows="joint",
    ),
    _kind(
        "pulling vacuum",
        "Vacuum pulled",
        StepField("pump", "Pump", "text"),
        StepField("gauge", "Gauge", "instrument", instruments=("vacuum gauge", "pressure gauge")),
        StepField("start", "Started at", "when"),
        StepField("end", "Ended at", "when"),
        StepField("lowest", "Lowest reading", "pressure", REQUIRED, absolute=True, known=_PUMPED_PA),
        shows="gauge",
    ),
    _kind(
        "vacuum hold",
        "Vacuum hold",
        StepField("readings", "Readings", "rises", REQUIRED, absolute=True, hint=_TIMES),
        StepField("coldest", "Coldest part", "temperature", known=_PART_K),
        StepField("gauge", "Gauge", "instrument", instruments=("vacuum gauge", "pressure gauge")),
        _choice("gauge_type", "The gauge reads", ("absolute", "relative")),
        StepField("volume", "Inside volume", "volume", OPTIONAL, hint=_AS_THE_VISIT),
        _BAROMETER,
        shows="gauge",
    ),
    _kind(
        "charge",
        "Charged",
        StepField("target", "Target", "mass"),
        StepField("tolerance", "Tolerance, plus or minus", "mass"),
        _choice("phase", "Drawn as", ("liquid", "vapour")),
        _choice("stance", "Bottle stood", ("upright", "upside down", "on its side")),
        _choice("port", "Charged into", ("low side", "high side", "both")),
        _choice("engine", "Engine", ("off", "running")),
        _choice("hose", "Hose at the end", ("pulled empty", "liquid left in it", "vapour left in it")),
        _choice("onto", "How it comes onto what is inside", ONTO, OPTIONAL),
        cautions=("charge", "charge-high-side", "charge-liquid-low-side"),
        posts=True,
        at="visit-charge",
        shows="scale",
        certified=True,
    ),
    _kind(
        "running test",
        "Running test",
        StepField("air", "Air temperature", "temperature", REQUIRED, known=_AIR_K),
        StepField("humidity", "Humidity of the air", "percent"),
        StepField("low", "Low-side pressure", "pressure", known=(50_000.0, 1.6e6), not_above="high"),
        StepField("high", "High-side pressure", "pressure", known=(50_000.0, 4.0e6)),
        StepField("vent", "Vent temperature", "temperature", REQUIRED, known=_VENT_K, not_above="air"),
        StepField("speed", "Engine speed", "number", unit="rpm"),
        StepField("fan", "Fan", "text"),
        _yes("recirculation", "Recirculation on"),
        StepField("suction", "Suction line temperature", "temperature", OPTIONAL, known=_HOT_K),
        StepField("liquid", "Liquid line temperature", "temperature", OPTIONAL, known=_HOT_K),
        shows="gauge",
    ),
    _kind(
        "after-search",
        "Searched with the charge in",
        StepField("joints", "Joints and ports rechecked", "number", REQUIRED, unit="joints"),
        StepField("leaking", "Leaking", "number", REQUIRED, unit="joints", hint="0 is an answer too."),
        StepField("where", "Which", "text", OPTIONAL),
        StepField("instrument", "Instrument", "instrument", instruments=("leak detector",)),
        _yes("caps", "Caps fitted"),
        words="search with the charge in",
        cautions=("leak-search",),
        shows="joint",
    ),
    _kind(
        "conversion done",
        "Converted",
        StepField("to", "Now for", "refrigerant", REQUIRED),
        StepField("high_fitting", "Fitting, high side", "text"),
        StepField("low_fitting", "Fitting, low side", "text"),
        StepField("hoses", "Hoses", "text"),
        StepField("cut_out", "Cut-out switch", "text"),
        StepField("trade_name", "Trade name of the refrigerant, as its label has it", "text", OPTIONAL),
        StepField("lubricant", "Lubricant, type and amount", "text"),
        StepField("lubricant_maker", "Maker of the lubricant", "text", OPTIONAL),
        StepField("drier", "Drier", "text"),
        _yes("old_covered", "Old label covered"),
        StepField("photo", "Photo of the new label", "photo"),
        words="conversion",
        cautions=("flammable",),
        shows="label",
    ),
    _kind(
        "declined",
        "Declined",
        StepField("advised", "What was advised", "text", REQUIRED),
        StepField("declined", "What the customer declined", "text", REQUIRED),
        _yes("signed", "Signed by the customer"),
        words="customer declines",
        shows="paper",
    ),
    _kind(
        "interrupted",
        "Interrupted",
        StepField("from", "From", "when", REQUIRED),
        StepField("to", "Until", "when"),
        _choice("why", "Why", ("power", "scale", "cylinder full", "part on order", "other"), REQUIRED),
        StepField("left", "State it was left in", "text"),
        words="interruption",
        lead="Readings on either side of it are two sessions of the scale.",
    ),
    _kind(
        "paper sheet",
        "From paper",
        StepField("number", "Number of the sheet", "text", REQUIRED),
        StepField("reason", "Why it was on paper", "text"),
        StepField("copied_by", "Who copied it", "person"),
        StepField("photo", "Photo of the sheet", "photo", OPTIONAL),
        lead="What the sheet holds is entered as its own steps, each with the time on the sheet.",
        shows="paper",
    ),
    _kind(
        "hand-over",
        "Handed over",
        StepField("documents", "Documents given", "text"),
        StepField("next_look", "When to look again", "look again", hint="A day, or such as: in 12 months"),
        _yes("signed", "Signed by the customer"),
        at="visit-hand-over",
        shows="paper",
    ),
    _kind(
        SPOT_CHECK,
        "Spot check",
        StepField("looked", "What was looked at", "text", REQUIRED, hint="Such as: pressures, label, photos, readings"),
        _choice("found", "What was found", (AGREES, DIFFERS), REQUIRED),
        StepField("gap", "What does not agree", "long text", REQUIRED, only_if=("found", (DIFFERS,))),
        lead="Somebody who did no step of the visit looks at it. The book’s digest chooses one visit in twenty.",
    ),
)

BY_NAME = {kind.name: kind for kind in KINDS}
BY_SLUG = {kind.slug: kind for kind in KINDS}
MASS_STEPS = ("recovery", "charge")  # those whose line says what a vehicle gave or got
