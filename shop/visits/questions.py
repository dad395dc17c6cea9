"""The questions that a visit asks, each with a key, its words, and why a workshop cannot leave it out. Pure.

A question is whether a step stands at all ("running-test"), or one of its fields that is asked ("recovery/oil_out").
Words are those of the kind and of the field, which `kinds` has. What a step cannot be written without, and the
hand-over that ends a visit, are no questions. A workshop leaves out what nothing here names for its jurisdiction.
"""

from collections.abc import Collection, Iterator, Mapping
from dataclasses import dataclass

from shop.visits.kinds import KINDS
from shop.visits.steps import ASKED, StepField, StepKind

WHETHER_DONE = "whether it was done"
MAY_BE_MISSED = (
    "received",
    "label-read",
    "ports-seen",
    "standing-pressure",
    "identified",
    "recovery",
    "remainder-settled",
    "circuit-opened",
    "circuit-closed",
    "oil-balance",
    "high-voltage-isolated",
    "pressure-hold",
    "leak-search",
    "repair",
    "pulling-vacuum",
    "vacuum-hold",
    "charge",
    "running-test",
    "after-search",
    "conversion-done",
    "spot-check",
)
"""Kinds of step, by their slugs, that `asked` asks for where they are missing."""

FOR_SAFETY: Mapping[str, str] = {
    "ports-seen": "another gas may be inside",
    "ports-seen/adapters": "another gas may be inside",
    "ports-seen/conversion_signs": "another gas may be inside",
    "standing-pressure": "what stands under pressure is known before it is opened",
    "identified": "a flammable or mixed gas is known before a machine is joined",
    "identified/shares": "a flammable or mixed gas is known before a machine is joined",
    "label-read/refrigerant": "only what it is built for is charged",
    "recovery": "nothing is opened under pressure",
    "recovery/heat": "a flame at a vessel under pressure bursts it",
    "recovery/final_pressure": "nothing is opened under pressure",
    "recovery/pressure_after_wait": "gas that boils out of the oil raises the pressure again",
    "circuit-opened": "nothing is opened under pressure",
    "circuit-opened/relieved": "nothing is opened under pressure",
    "circuit-closed": "nothing is filled that stands open",
    "high-voltage-isolated": "high voltage kills",
    "pressure-hold/allowed": "more than the weakest side bears bursts it",
    "pressure-hold/relief": "a bottle’s own pressure bursts the circuit",
    "part-in/oil_type": "oil that conducts puts high voltage on the housing",
    "flush/driven": "what drives an agent out can burst or burn",
    "pulling-vacuum": "air left inside raises the pressure, and with gas it can burn",
    "charge/target": "too much bursts hoses and seals",
    "charge/phase": "liquid into the low side breaks the compressor",
    "charge/port": "a bottle on the high side of a running engine bursts",
    "charge/engine": "a bottle on the high side of a running engine bursts",
    "conversion-done": "the next who opens it knows what is inside",
    "conversion-done/high_fitting": "a fitting of the old gas lets the old gas in again",
    "conversion-done/low_fitting": "a fitting of the old gas lets the old gas in again",
    "conversion-done/cut_out": "it stops the compressor before something bursts",
    "conversion-done/old_covered": "two labels name two gases",
    "interrupted/left": "whoever goes on knows what is inside",
}

_LET_GO = "what shows that no gas was let go"
_IN_IT = "which gas was in it decides what is asked"
_LOSS = "no fill after a loss before the repair"
_TURNED = "a change of gas is recorded"
_PROOF: Mapping[str, str] = dict.fromkeys(
    (
        "received",
        "standing-pressure",
        "standing-pressure/gauge",
        "standing-pressure/air",
        "standing-pressure/coldest",
        "standing-pressure/warmest",
        "recovery",
        "recovery/final_pressure",
        "recovery/waited",
        "recovery/pressure_after_wait",
        "remainder-settled",
        "circuit-opened",
        "label-read/mass",
    ),
    _LET_GO,
) | {
    "label-read": _IN_IT,
    "label-read/refrigerant": _IN_IT,
    "charge": "what was charged is recorded",
    "conversion-done": _TURNED,
    "conversion-done/photo": "the new label is on the vehicle",
}

BY_LAW: Mapping[str, Mapping[str, str]] = {
    "us": {
        **_PROOF,
        "conversion-done/high_fitting": "each refrigerant has its own fittings",
        "conversion-done/low_fitting": "each refrigerant has its own fittings",
        "conversion-done/hoses": "barrier hoses for gas with R-22",
        "conversion-done/cut_out": "a switch where there is a relief device",
        "conversion-done/lubricant": "the new label names it",
    },
    "eu": {
        **_PROOF,
        **dict.fromkeys(("leak-search", "after-search", "repair"), _LOSS),
    },
    "in": {"charge": "use of CFC and HCFC is known by mass"},
}
"""By jurisdiction, what its rules look at, themselves or in the proof of a recovery, and why in a few words."""


@dataclass(frozen=True)
class Question:
    """One question: its key, the kind of step it belongs to, its words there."""

    key: str
    kind: StepKind
    words: str

    def kept_by(self, jurisdiction: str) -> str:
        """Return why it stays asked in a jurisdiction, empty where the workshop may leave it out."""
        law, safety = BY_LAW.get(jurisdiction, {}).get(self.key), FOR_SAFETY.get(self.key)
        said = (f"law: {law}" if law else "", f"safety: {safety}" if safety else "")
        return "; ".join(filter(None, said))


def key_of(kind: StepKind, field: StepField | None = None) -> str:
    """Return the key of a question: of a kind of step, or of one of its fields."""
    return f"{kind.slug}/{field.name}" if field else kind.slug


def _questions() -> Iterator[Question]:
    for kind in KINDS:
        if kind.slug in MAY_BE_MISSED:
            yield Question(key_of(kind), kind, WHETHER_DONE)
        for one in kind.fields:
            if one.need == ASKED:
                yield Question(key_of(kind, one), kind, one.words)


QUESTIONS: tuple[Question, ...] = tuple(_questions())


def left_out(chosen: Collection[str], jurisdiction: str) -> frozenset[str]:
    """Return the keys that are not asked: those chosen that no law of the jurisdiction and no safety keeps."""
    return frozenset(one.key for one in QUESTIONS if one.key in chosen and not one.kept_by(jurisdiction))
