"""The closed list of the steps of a visit, as data, and what is still asked of a visit.

Pure: no database. A step's kind says its fields; a field is *required* (the step is not written without it), *asked*
(written without it, and then still asked) or *optional*. What a visit still owes is computed from its steps by
`asked`: nothing that is missing is silently passed, and an answer such as "no label" is an answer.

A step's data is ``{"field": {"text": as typed, "si": value, "echo": as read}}``.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any, TypeVar

REQUIRED, ASKED, OPTIONAL = "required", "asked", "optional"
YES, NO = "yes", "no"
NOT_KNOWN = "not known"
READ_AGAINST = "read_against"  # under this name a step keeps the air, where the height of the workshop was not entered
HELD_BACK_AS = "book"  # under this name an arrival keeps what the book said of the vehicle then

FIELD_TYPES = (
    "mass",
    "pressure",
    "temperature",
    "volume",
    "duration",
    "percent",
    "number",
    "choice",
    "yes-no",
    "text",
    "long text",
    "when",
    "readings",
    "rises",
    "shares",
    "refrigerant",
    "instrument",
    "person",
    "photo",
)

T = TypeVar("T", bound=Mapping[str, Any])
Data = Mapping[str, Mapping[str, Any]]


@dataclass(frozen=True)
class StepField:
    """One field of a step. `only_if` names another field and the answers of it for which this one is asked.

    `unless_equal` names two quantities; where both are there and alike, this field is not asked.
    """

    name: str
    words: str
    type: str
    need: str = ASKED
    choices: tuple[str, ...] = ()
    hint: str = ""
    unit: str = ""  # of a number, in words
    absolute: bool = False  # a bare pressure counts from nothing, not from the atmosphere
    instruments: tuple[str, ...] = ()  # kinds of gauge offered
    only_if: tuple[str, tuple[str, ...]] | None = None
    unless_equal: tuple[str, str] | None = None
    refused: Mapping[str, str] = field(default_factory=dict)  # a word in the answer, and why it is refused
    known: tuple[float, float] | None = None  # what it is likely to read, in SI; outside is a question
    not_above: str = ""  # another field of the step, above which it is unlikely to read

    def applies(self, data: Data) -> bool:
        """Whether this field is asked for at all, given the other answers."""
        if self.unless_equal is not None:
            one, other = (si_of(data, name) for name in self.unless_equal)
            return one is not None and other is not None and one != other
        return self.only_if is None or text_of(data, self.only_if[0]) in self.only_if[1]

    def known_of(self, refrigerant: str) -> tuple[float, float] | None:
        """Return `known` for a system of a refrigerant: carbon dioxide stands and runs at ten times the pressure."""
        if self.known is None or self.type != "pressure" or refrigerant != "R-744":
            return self.known
        return self.known[0], max(self.known[1], _CARBON_DIOXIDE_PA)

    def decided(self, data: Data) -> bool:
        """Whether the answers are there on which it depends if this field is asked for."""
        names = self.unless_equal or (self.only_if or ())[:1]
        return all(name in data for name in names)


@dataclass(frozen=True)
class StepKind:
    """One kind of step: its words, its fields, the cautions that stand with it, whether it moves mass."""

    name: str
    words: str  # on buttons and in "still asked": "leak search"
    done: str  # how the log begins its line: "Leak search"
    fields: tuple[StepField, ...]
    cautions: tuple[str, ...] = ()
    posts: bool = False
    at: str = ""  # name of the page that enters it, where it has one of its own
    lead: str = ""
    certified: bool = False  # whoever does it holds a certificate where the rules ask for one
    shows: str = "other"  # what a photo of it shows, as `inventory.shelf.photos` names it

    @property
    def slug(self) -> str:
        """The kind as it stands in an address."""
        return self.name.replace(" ", "-")

    def field(self, name: str) -> StepField:
        """Return one field; raises KeyError for a name that is not of this kind."""
        return {one.name: one for one in self.fields}[name]


def text_of(data: Data, name: str) -> str:
    """Return what was typed or chosen for a field; empty where nothing was."""
    return str((data.get(name) or {}).get("text", "") or "")


def si_of(data: Data, name: str) -> Any:
    """Return the SI value of a field, or None."""
    return (data.get(name) or {}).get("si")


def air_pa(data: Data, otherwise_pa: float) -> float:
    """Return the air (Pa) that a step's gauges were read against: what was kept with it, else `otherwise_pa`."""
    kept_pa = si_of(data, READ_AGAINST)
    return otherwise_pa if kept_pa is None else float(kept_pa)


def said(data: Data, name: str) -> str:
    """Return a field as it was read, for the log."""
    entry = data.get(name) or {}
    return str(entry.get("echo") or entry.get("text") or "")


def applicable(kind: StepKind | None, data: Mapping[str, T]) -> dict[str, T]:
    """Return a step's data without what its other answers rule out; what is of no field of its kind stays."""
    ruled_out = {one.name for one in kind.fields if one.decided(data) and not one.applies(data)} if kind else set()
    return {name: entry for name, entry in data.items() if name not in ruled_out}


def _yes(name: str, words: str, need: str = ASKED, **more: Any) -> StepField:
    return StepField(name, words, "yes-no", need, (YES, NO), **more)


def _choice(name: str, words: str, choices: Sequence[str], need: str = ASKED, **more: Any) -> StepField:
    return StepField(name, words, "choice", need, tuple(choices), **more)


_FUELS = "A fuel or degreaser is never a flush: it burns, and it ruins oil and seals. Use an agent made for it."
_REFUSED_FLUSHES = dict.fromkeys(
    ("petrol", "gasoline", "diesel", "kerosene", "paraffin", "fuel", "spirit", "thinner", "brake cleaner", "degreaser"),
    _FUELS,
)
_TIMES = "Times in minutes, with another unit (20 min, 1.5 h), or as 10:35."
_OPEN_ON_ARRIVAL = ("open to air", "hose off")
_PORTS = ("R-12 screw", "R-134a quick coupler", "R-1234yf quick coupler", "other", "not there")
_STOPPED = ("done", "target full", "fault", "other refrigerant found")
_LABEL = ("label", ("label read",))
_USED = ("result", ("used",))
_BAROMETER = StepField(
    "barometer",
    "Barometer here, not reduced to sea level",
    "pressure",
    OPTIONAL,
    absolute=True,
    hint="The air’s own pressure now; hPa is the same as mbar. Left out, it follows from the height above sea level",
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
_CARBON_DIOXIDE_PA = 1.6e7
_HELD = (101_325.0, 4.5e6)  # what a nitrogen hold may read: at most 45 bar; 250 bar was meant as psi

KINDS: tuple[StepKind, ...] = (
    StepKind(
        "received",
        "arrival",
        "Arrived",
        (
            StepField("odometer", "Odometer", "text", hint="As it stands there, with km or miles"),
            StepField("says", "What the customer says", "long text"),
            _choice("state", "State on arrival", ("runs", "warm", *_OPEN_ON_ARRIVAL, "accident", "unknown"), REQUIRED),
            StepField(
                "photo",
                "Photo of the open circuit",
                "photo",
                only_if=("state", _OPEN_ON_ARRIVAL),
            ),
        ),
    ),
    StepKind(
        "label read",
        "label read",
        "Label",
        (
            _choice("label", "Label", ("label read", "no label"), REQUIRED, hint="No label is an answer too."),
            StepField("refrigerant", "Refrigerant on the label", "refrigerant", only_if=_LABEL),
            StepField("mass", "Mass on the label", "mass", only_if=_LABEL),
            StepField("tolerance", "Tolerance, plus or minus", "mass", OPTIONAL, only_if=_LABEL),
            StepField("lubricant", "Lubricant on the label", "text", only_if=_LABEL),
            StepField("where", "Where it was read", "text", only_if=_LABEL),
        ),
        shows="label",
    ),
    StepKind(
        "ports seen",
        "ports seen",
        "Ports",
        (
            _choice("high", "High-side port", _PORTS, REQUIRED),
            _choice("low", "Low-side port", _PORTS, REQUIRED),
            _yes("adapters", "Adapters on the ports"),
            StepField("conversion_signs", "Signs of a conversion", "text", hint="None seen is an answer too."),
            _choice("leak_stop", "Leak-stop additive", ("none seen", "seen", "test: none", "test: there is some")),
        ),
        cautions=("ports-seen",),
    ),
    StepKind(
        "standing pressure",
        "standing pressure",
        "Standing pressure",
        (
            StepField("pressure", "Pressure on the gauge", "pressure", REQUIRED, known=(1_000.0, 4.0e6)),
            StepField("gauge", "Gauge", "instrument", instruments=("pressure gauge",)),
            StepField("air", "Air temperature", "temperature", known=_AIR_K),
            StepField("coldest", "Coldest part measured", "temperature", known=_PART_K, not_above="warmest"),
            StepField("warmest", "Warmest part measured", "temperature", known=_HOT_K),
            StepField("since_running", "Time since it ran", "duration"),
            _choice("empty", "It arrived empty", (NO, YES), OPTIONAL, hint="Only where nothing stands above the air."),
            StepField("photo", "Photo of the gauge", "photo", OPTIONAL),
        ),
        cautions=("standing-pressure",),
        lead="It names no gas by itself, and it is the best witness of what was inside.",
        shows="gauge",
    ),
    StepKind(
        "identified",
        "identification",
        "Identified",
        (
            _choice("result", "Identifier", ("used", "none here"), REQUIRED, hint="None here is an answer too."),
            StepField(
                "instrument", "Instrument", "instrument", instruments=("identifier",), only_if=("result", ("used",))
            ),
            StepField(
                "shares",
                "What it showed, in per cent by mass",
                "shares",
                only_if=_USED,
                hint="Such as: R-134a 99.2, air 0.8",
            ),
        ),
        cautions=("identified", "flammable"),
        lead="Below 98 % of one refrigerant it is suspect, and goes into a cylinder of its own.",
    ),
    StepKind(
        "recovery",
        "recovery",
        "Recovered",
        (
            StepField("start", "Started at", "when"),
            _yes("engine_run", "Engine run before"),
            _yes("heat", "Heat used", hint="Warm water or warm air, never a flame"),
            StepField("final_pressure", "Pressure when it stopped", "pressure", known=_RECOVERED_PA),
            StepField("waited", "Waited", "duration", known=_WAITED_S),
            StepField("pressure_after_wait", "Pressure after the wait", "pressure", known=_RECOVERED_PA),
            StepField("coldest", "Coldest part then", "temperature", OPTIONAL, known=_PART_K),
            StepField("oil_out", "Oil that came out", "volume", known=_OIL_M3, hint="0 is an answer too."),
            _choice("stopped", "Why it stopped", _STOPPED, REQUIRED),
        ),
        cautions=("recovery", "recovery-slow"),
        posts=True,
        at="visit-recover",
        shows="gauge",
        certified=True,
    ),
    StepKind(
        "remainder settled",
        "what is left settled",
        "What was left",
        (
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
        ),
        posts=True,
        at="visit-step",
    ),
    StepKind(
        "circuit opened",
        "circuit opened",
        "Circuit opened",
        (
            StepField("what", "What was opened", "text", REQUIRED),
            _yes("relieved", "Pressure relieved before"),
        ),
        cautions=("circuit-opened",),
        certified=True,
    ),
    StepKind(
        "circuit closed",
        "circuit closed",
        "Circuit closed",
        (
            StepField("what", "What was closed", "text", REQUIRED),
            _yes("capped", "Ends capped while it was open"),
        ),
    ),
    StepKind(
        "part out",
        "part taken out",
        "Part out",
        (
            StepField("part", "Part", "text", REQUIRED),
            StepField("oil_found", "Oil found in it", "volume", known=_OIL_M3, hint="0 is an answer too."),
            StepField("oil_type", "Type of that oil", "text", hint="Not known is an answer, and stays open."),
        ),
    ),
    StepKind(
        "part in",
        "part fitted",
        "Part in",
        (
            StepField("part", "Part", "text", REQUIRED),
            _choice("condition", "Condition", ("new", "rebuilt", "used")),
            StepField("number", "Maker’s number", "text"),
            StepField("seal", "Seal material", "text"),
            StepField("oil_in", "Oil put in", "volume", known=_OIL_M3, hint="0 is an answer too."),
            StepField("oil_type", "Type of that oil", "text"),
            StepField("oil_found", "Oil found in it", "volume", OPTIONAL, known=_OIL_M3),
        ),
    ),
    StepKind(
        "flush",
        "flush",
        "Flushed",
        (
            StepField("agent", "Agent", "text", REQUIRED, refused=_REFUSED_FLUSHES),
            _choice("driven", "How it was driven through", ("own pump", "nitrogen", "refrigerant machine", "other")),
            StepField("parts", "Parts flushed", "text"),
            StepField("dried", "How it was dried", "text"),
            StepField("waste", "Where the waste went", "text"),
        ),
        cautions=("flush",),
    ),
    StepKind(
        "oil balance",
        "oil balance",
        "Oil",
        (
            StepField("out", "Oil out in all", "volume", REQUIRED, known=_OIL_M3),
            StepField("in", "Oil in in all", "volume", REQUIRED, known=_OIL_M3),
            StepField("type", "Type of oil", "text", REQUIRED, hint="Not known is an answer, and stays open."),
            StepField("grade", "Grade", "text"),
            StepField("maker", "Maker’s figure for the whole system", "volume", known=_OIL_M3),
            StepField("why", "Why more or less went in than came out", "text", unless_equal=("out", "in")),
        ),
    ),
    StepKind(
        "high voltage isolated",
        "high voltage isolated",
        "High voltage isolated",
        (
            StepField("by", "By whom", "person", REQUIRED),
            StepField("method", "How", "text", REQUIRED),
            _yes("dead", "Measured to be dead", REQUIRED),
        ),
        cautions=("electric",),
    ),
    StepKind(
        "pressure hold",
        "pressure hold",
        "Pressure hold",
        (
            _choice("gas", "Gas", ("dry nitrogen", "nitrogen with hydrogen"), REQUIRED),
            StepField("allowed", "Allowed pressure of the weakest side", "pressure", known=_HELD),
            _yes("relief", "Regulator and relief valve fitted"),
            StepField("readings", "Readings", "readings", REQUIRED, known=_HELD, hint=_TIMES),
            StepField("volume", "Inside volume", "volume", OPTIONAL, hint=_AS_THE_VISIT),
            StepField("gauge", "Gauge", "instrument", instruments=("pressure gauge",)),
            StepField("thermometer", "Thermometer", "instrument", OPTIONAL, instruments=("thermometer",)),
            _BAROMETER,
        ),
        cautions=("pressure-hold",),
        lead="The first 10 to 15 minutes do not count: the gas warms, hoses stretch.",
        shows="gauge",
    ),
    StepKind(
        "leak search",
        "leak search",
        "Leak search",
        (
            _choice(
                "method",
                "Method",
                ("electronic", "bubbles", "dye", "ultrasonic", "hydrogen detector", "by eye"),
                REQUIRED,
                hint="A flame torch is no method: it makes acid fumes.",
            ),
            StepField("instrument", "Instrument", "instrument", OPTIONAL, instruments=("leak detector",)),
            StepField("sensitivity", "Smallest leak it shows", "number", unit="g a year"),
            _choice("gas", "Gas inside", ("refrigerant", "dry nitrogen", "nitrogen with hydrogen")),
            StepField("pressure", "Pressure inside", "pressure", known=(50_000.0, 4.5e6)),
            StepField("joints", "Joints looked at", "number", REQUIRED, unit="joints"),
            StepField("leaking", "Joints leaking", "number", REQUIRED, unit="joints", hint="0 is an answer too."),
            StepField("where", "Which joints leak", "text", OPTIONAL, hint="With a comma between two"),
            StepField("photo", "Photo of the leak", "photo", OPTIONAL),
        ),
        cautions=("leak-search",),
        lead="No leak found is always said with its limit.",
        shows="joint",
    ),
    StepKind(
        "repair",
        "repair",
        "Repaired",
        (
            StepField("joint", "Joint or part", "text", REQUIRED),
            StepField("what", "What was done", "text", REQUIRED),
        ),
        shows="joint",
    ),
    StepKind(
        "pulling vacuum",
        "pulling vacuum",
        "Vacuum pulled",
        (
            StepField("pump", "Pump", "text"),
            StepField("gauge", "Gauge", "instrument", instruments=("vacuum gauge", "pressure gauge")),
            StepField("start", "Started at", "when"),
            StepField("end", "Ended at", "when"),
            StepField("lowest", "Lowest reading", "pressure", REQUIRED, absolute=True, known=_PUMPED_PA),
        ),
        shows="gauge",
    ),
    StepKind(
        "vacuum hold",
        "vacuum hold",
        "Vacuum hold",
        (
            StepField("readings", "Readings", "rises", REQUIRED, absolute=True, hint=_TIMES),
            StepField("coldest", "Coldest part", "temperature", known=_PART_K),
            StepField("gauge", "Gauge", "instrument", instruments=("vacuum gauge", "pressure gauge")),
            _choice("gauge_type", "The gauge reads", ("absolute", "relative")),
            StepField("volume", "Inside volume", "volume", OPTIONAL, hint=_AS_THE_VISIT),
            _BAROMETER,
        ),
        shows="gauge",
    ),
    StepKind(
        "charge",
        "charge",
        "Charged",
        (
            StepField("target", "Target", "mass"),
            StepField("tolerance", "Tolerance, plus or minus", "mass"),
            _choice("phase", "Drawn as", ("liquid", "vapour")),
            _choice("stance", "Bottle stood", ("upright", "upside down", "on its side")),
            _choice("port", "Into the", ("low side", "high side", "both")),
            _choice("engine", "Engine", ("off", "running")),
            _choice("hose", "Hose at the end", ("pulled empty", "liquid left in it", "vapour left in it")),
        ),
        cautions=("charge", "charge-high-side", "charge-liquid-low-side"),
        posts=True,
        at="visit-charge",
        shows="scale",
        certified=True,
    ),
    StepKind(
        "running test",
        "running test",
        "Running test",
        (
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
        ),
        shows="gauge",
    ),
    StepKind(
        "after-search",
        "search with the charge in",
        "Searched with the charge in",
        (
            StepField("joints", "Joints and ports rechecked", "number", REQUIRED, unit="joints"),
            StepField("leaking", "Leaking", "number", REQUIRED, unit="joints", hint="0 is an answer too."),
            StepField("where", "Which", "text", OPTIONAL),
            StepField("instrument", "Instrument", "instrument", instruments=("leak detector",)),
            _yes("caps", "Caps fitted"),
        ),
        cautions=("leak-search",),
        shows="joint",
    ),
    StepKind(
        "conversion done",
        "conversion",
        "Converted",
        (
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
        ),
        cautions=("flammable",),
        shows="label",
    ),
    StepKind(
        "declined",
        "customer declines",
        "Declined",
        (
            StepField("advised", "What was advised", "text", REQUIRED),
            StepField("declined", "What the customer declined", "text", REQUIRED),
            _yes("signed", "Signed by the customer"),
        ),
        shows="paper",
    ),
    StepKind(
        "interrupted",
        "interruption",
        "Interrupted",
        (
            StepField("from", "From", "when", REQUIRED),
            StepField("to", "Until", "when"),
            _choice("why", "Why", ("power", "scale", "cylinder full", "part on order", "other"), REQUIRED),
            StepField("left", "State it was left in", "text"),
        ),
        lead="Readings on either side of it are two sessions of the scale.",
    ),
    StepKind(
        "paper sheet",
        "paper sheet",
        "From paper",
        (
            StepField("number", "Number of the sheet", "text", REQUIRED),
            StepField("reason", "Why it was on paper", "text"),
            StepField("copied_by", "Who copied it", "person"),
            StepField("photo", "Photo of the sheet", "photo", OPTIONAL),
        ),
        lead="What the sheet holds is entered as its own steps, each with the time on the sheet.",
        shows="paper",
    ),
    StepKind(
        "hand-over",
        "hand-over",
        "Handed over",
        (
            StepField("documents", "Documents given", "text"),
            StepField("next_look", "When to look again", "text"),
            _yes("signed", "Signed by the customer"),
        ),
        at="visit-hand-over",
        shows="paper",
    ),
)

BY_NAME = {kind.name: kind for kind in KINDS}
BY_SLUG = {kind.slug: kind for kind in KINDS}


@dataclass(frozen=True)
class Done:
    """A step that stands in the log; `live` is false once a newer one has replaced it or its line was reversed."""

    id: int
    kind: str
    data: Data
    live: bool = True
    refrigerant: str = ""  # what moved, where it moved mass
    photographed: bool = False  # a photo of it is in the book


@dataclass(frozen=True)
class VehicleFacts:
    """What the book and the vehicle's record say: masses in milligrams, the book's balance by refrigerant."""

    refrigerant: str = ""
    electric_compressor: bool = False
    held_mg: Mapping[str, int] = field(default_factory=dict)
    content: str = "unknown"
    atmosphere_pa: float = 101_325.0


@dataclass(frozen=True)
class Asked:
    """One thing still asked: the kind of step that answers it, in words, and why; `step` where one has a gap."""

    kind: str
    words: str
    why: str = ""
    step: int | None = None

    @property
    def kind_slug(self) -> str:
        """The kind as it stands in an address."""
        return BY_NAME[self.kind].slug


def gaps(kind: StepKind, data: Data, *, photographed: bool = False) -> tuple[StepField, ...]:
    """Return the fields of a written step that are still asked; "not known" is written and stays open.

    `photographed`: a photo of it is in the book, so that none is asked for.
    """
    found = []
    for one in kind.fields:
        if one.need == OPTIONAL or not one.applies(data) or (one.type == "photo" and photographed):
            continue
        entry = data.get(one.name) or {}
        empty = entry.get("text") in (None, "", [], ()) and entry.get("si") is None
        answer = text_of(data, one.name).strip().lower()
        if empty or (one.type != "choice" and answer in (NOT_KNOWN, "unknown")):
            found.append(one)
    return tuple(found)


def asked(steps: Iterable[Done], facts: VehicleFacts) -> tuple[Asked, ...]:
    """Return what is still asked of a visit, in the order in which the work goes.

    `steps` are all steps of the visit in the order in which they happened. Steps that are missing come first, then
    gaps within steps, then the hand-over. Nothing is passed over because a later step stands already.
    """
    log = _Log([step for step in steps if step.live], facts)
    found = [*_before_work(log), *_gas_out(log), *_open_circuit(log), *_proof(log), *_gas_in(log), *_ends(log)]
    return (*found, *_gaps_of(log), *_hand_over(log))


class _Log:
    """The living steps of a visit in their order, with the questions that the rules ask of them."""

    def __init__(self, steps: Sequence[Done], facts: VehicleFacts) -> None:
        self.steps, self.facts = steps, facts

    def has(self, *kinds: str) -> bool:
        return any(step.kind in kinds for step in self.steps)

    def last(self, kind: str) -> Done | None:
        return next((step for step in reversed(self.steps) if step.kind == kind), None)

    def place(self, *kinds: str) -> int:
        """The place of the last step of these kinds, -1 where there is none."""
        return max((place for place, step in enumerate(self.steps) if step.kind in kinds), default=-1)

    def follows(self, kind: str, *after: str) -> bool:
        """Whether the last step of `kind` stands after the last of `after`."""
        return self.place(kind) > self.place(*after)

    @property
    def arrived_open(self) -> bool:
        received = self.last("received")
        return received is not None and text_of(received.data, "state") in _OPEN_ON_ARRIVAL

    @property
    def held_mg(self) -> int:
        return sum(mass for mass in self.facts.held_mg.values() if mass > 0)

    @property
    def stood_above_mg(self) -> bool:
        """Whether the standing pressure was above the atmosphere by more than a needle's width."""
        stood = self.last("standing pressure")
        pressure_pa = si_of(stood.data, "pressure") if stood else None
        around_pa = air_pa(stood.data if stood else {}, self.facts.atmosphere_pa)
        return pressure_pa is not None and float(pressure_pa) > around_pa + 5_000

    @property
    def worked_on(self) -> bool:
        return self.has("circuit opened", "circuit closed", "part out", "part in", "flush", "repair", "conversion done")


def _ask(kind: str, why: str = "", step: int | None = None) -> Asked:
    return Asked(kind, BY_NAME[kind].words, why, step)


def _before_work(log: _Log) -> list[Asked]:
    found = []
    if not log.has("received"):
        found.append(_ask("received"))
    for kind in ("label read", "ports seen"):
        if not log.has(kind):
            found.append(_ask(kind))
    if not log.has("standing pressure") and not log.arrived_open:
        found.append(_ask("standing pressure", "it is the witness of what was inside"))
    if not log.has("identified") and not (log.arrived_open and not log.has("recovery")):
        found.append(_ask("identified", "before a machine is joined to it"))
    return found


def _gas_out(log: _Log) -> list[Asked]:
    found = []
    recovery = log.last("recovery")
    stopped = text_of(recovery.data, "stopped") if recovery else ""
    if recovery and stopped not in ("", "done"):
        found.append(_ask("recovery", f"the last leg stopped: {stopped}"))
    elif recovery is None and not log.has("charge", "remainder settled"):
        if log.stood_above_mg:
            found.append(_ask("recovery", "it stood above the atmosphere"))
        elif log.held_mg > 0 and not log.arrived_open:
            found.append(_ask("recovery", f"the book has {log.held_mg / 1000:.0f} g in it"))
    if recovery is None and log.has("circuit opened") and not log.arrived_open and not log.has("standing pressure"):
        found.append(_ask("recovery", "the circuit was opened with no recovery and no standing pressure"))
    emptied = recovery is not None or log.arrived_open or log.has("remainder settled")
    if emptied and log.held_mg > 0 and not log.has("charge"):
        found.append(_ask("remainder settled", f"the book still has {log.held_mg / 1000:.0f} g in the vehicle"))
    return found


def _open_circuit(log: _Log) -> list[Asked]:
    found = []
    if log.facts.electric_compressor and log.has("circuit opened") and not log.has("high voltage isolated"):
        found.append(_ask("high voltage isolated", "the compressor is electric"))
    if log.has("part out", "part in", "flush") and not (log.has("circuit opened") or log.arrived_open):
        found.append(_ask("circuit opened", "a part was changed"))
    if log.has("circuit opened") and not log.follows("circuit closed", "circuit opened"):
        found.append(_ask("circuit closed", "it was opened"))
    if log.has("part out", "part in", "flush") and not log.has("oil balance"):
        found.append(_ask("oil balance", "parts with oil in them were changed"))
    search = log.last("leak search") if log.follows("leak search", "after-search") else log.last("after-search")
    leaking = si_of(search.data, "leaking") if search else None
    mended = log.follows("repair", "leak search", "after-search") or log.has("declined")
    if leaking and float(leaking) > 0 and not mended:
        found.append(_ask("repair", f"{float(leaking):.0f} joints leak"))
    return found


def _proof(log: _Log) -> list[Asked]:
    work = ("circuit opened", "circuit closed", "part out", "part in", "flush", "repair")
    found: list[Asked] = []
    if not log.worked_on and not log.arrived_open:
        return found
    if not log.follows("pressure hold", *work):
        found.append(_ask("pressure hold", "the circuit was worked on"))
    if not (log.follows("leak search", *work) or log.follows("after-search", *work)):
        found.append(_ask("leak search", "the circuit was worked on"))
    if not log.follows("pulling vacuum", *work):
        found.append(_ask("pulling vacuum", "the circuit was worked on"))
    if not log.follows("vacuum hold", *work):
        found.append(_ask("vacuum hold", "the circuit was worked on"))
    return found


def _gas_in(log: _Log) -> list[Asked]:
    charge = log.last("charge")
    if charge is None:
        emptied = log.has("recovery", "circuit closed") or log.arrived_open
        return [_ask("charge", "it is empty")] if emptied and not log.has("declined") else []
    found = []
    emptied_first = log.has("recovery") or log.worked_on
    if emptied_first and not log.worked_on and not log.has("vacuum hold"):
        found.append(_ask("vacuum hold", "it was charged"))
    for kind in ("running test", "after-search"):
        if not log.follows(kind, "charge"):
            found.append(_ask(kind, "it was charged"))
    if charge.refrigerant and log.facts.refrigerant and charge.refrigerant != log.facts.refrigerant:
        found.append(
            _ask("conversion done", f"{charge.refrigerant} was charged, the vehicle is for {log.facts.refrigerant}")
        )
    return found


def _ends(log: _Log) -> list[Asked]:
    found = []
    declined = log.last("declined")
    if declined and text_of(declined.data, "signed") == NO:
        found.append(_ask("declined", "not signed by the customer", declined.id))
    return found


def _gaps_of(log: _Log) -> list[Asked]:
    """Return the gaps of the last step of each kind: legs and parts each on their own."""
    several = ("recovery", "charge", "part out", "part in", "repair", "circuit opened", "circuit closed", "interrupted")
    found = []
    for place, step in enumerate(log.steps):
        if step.kind not in several and place != log.place(step.kind):
            continue
        kind = BY_NAME.get(step.kind)
        missing = gaps(kind, step.data, photographed=step.photographed) if kind else ()
        if kind and missing:
            words = ", ".join(one.words.lower() for one in missing)
            found.append(Asked(kind.name, f"{kind.words}: {words}", "not entered", step.id))
    return found


def _hand_over(log: _Log) -> list[Asked]:
    return [] if log.has("hand-over") else [_ask("hand-over")]


def next_kinds(open_points: Iterable[Asked]) -> tuple[StepKind, ...]:
    """Return every kind of step, those still asked first, in the order in which they are asked."""
    wanted = list(dict.fromkeys(one.kind for one in open_points if one.step is None))
    return tuple(BY_NAME[name] for name in wanted) + tuple(kind for kind in KINDS if kind.name not in wanted)
