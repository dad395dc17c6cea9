"""The recovery proof: what should have come out, what did, what can still be inside, and what arrived at all.

Vocabulary: *expected* is what the label or the book says was inside; *short* is expected less recovered; the *bound*
is the most that vapour and oil can still hold; the *standing pressure* is that of a system at rest, before anything is
connected to a machine.

Masses are grams, pressures absolute pascals, temperatures kelvin, volumes cubic metres. A *step* is the resolution of
a display; a thermometer good to +-0.5 K counts as a step of 1 K.

A shortage is arithmetic, not proof: any shortage can be put down to a leak. The witness is the standing pressure.

Errors: ``MeasurementError`` with a sentence; ``NoPropertyData`` and ``OutsideModel`` of inventory.gases.fluids.
"""

from dataclasses import dataclass
from math import hypot, sqrt

from inventory.measure.uncertainty import give_or_take
from shop.bench import residue
from shop.bench.answers import (
    INSTRUCTIONS_FIRST,
    Answer,
    at_most,
    bar,
    celsius_read,
    figure,
    need_above_zero,
    need_not_below_zero,
    yearly,
)
from shop.bench.evidence import EVIDENCE, WITNESSED, Evidence, what_speaks
from shop.bench.insides import Inside
from shop.bench.leakrate import YEAR_DAYS
from shop.bench.residue import (
    COLD_K,
    EMPTIED,
    EMPTIED_BELOW_PA,
    Ending,
    Rest,
)

SOURCES = (
    "Vapour left behind: volume times density, by CoolProp",
    "Oil allowance: 5 % of the oil's mass (0 to 10 %), an allowance and not property data",
    "Wait 5 minutes after recovery, again if the pressure rises above the atmosphere: U.S. Army TM "
    "5-3810-307-24-1-2 (read second-hand)",
    "Counts as emptied under nine tenths of a standard atmosphere after that wait: common practice, no source",
    "Give or take is twice the standard uncertainty: JCGM 100:2008, clause 6.3",
)
CAUTIONS = (
    "Only a reading after the wait, with no cold or frosted spot, bounds what remains.",
    "Recovered mass may hold oil, air and water as well.",
    "Goggles, gloves, a ventilated place, no pit: refrigerant is heavier than air.",
    INSTRUCTIONS_FIRST,
)


@dataclass(frozen=True, kw_only=True)
class Recovery(Ending):
    """A recovery that is done, or a system said to have arrived empty (then `recovered_g` is 0), and how it ended.

    `expected_g` is the label, or the last charge less its known leak. The pressure is the one after the wait, or at the
    end where nobody waited (`waited_s` says which). `days_since_charge` None: nobody knows. `leak_excluded_g_per_year`
    is the smallest leak that a hold or search of this visit, before any repair, says there cannot be.
    """

    expected_g: float
    u_expected_g: float
    recovered_g: float
    u_recovered_g: float
    days_since_charge: float | None = None
    leak_excluded_g_per_year: float | None = None
    evidence: Evidence = Evidence()
    said_to_be_empty: bool = False


@dataclass(frozen=True, kw_only=True)
class RecoveryAnswer(Answer):
    """Verdicts: `accounted for`, `short`, `not explained`, `arrived empty`: of the mass that came out.

    What is left is another question with an answer of its own, `rest` (see `residue`): a circuit can be emptied and its
    mass be short all the same, for what is short was then gone before the recovery. `emptied` is that answer in short.
    `residual_max_g` is vapour plus oil allowance, None where liquid may remain; `limit_g` is that plus 2 u.
    `leak_needed_g_per_year` is the leak that would bring the shortage down to the limit, None without a date.
    `refused` says why "arrived empty" was not accepted. `would_change` are sentences.
    """

    missing_g: float
    u_missing_g: float
    vapour_max_g: float | None
    oil_allowance_g: float
    residual_max_g: float | None
    limit_g: float | None
    leak_needed_g_per_year: float | None
    evidence_letter: str
    refused: str
    would_change: tuple[str, ...]
    rest: Rest
    inside: Inside

    @property
    def emptied(self) -> bool:
        """Whether the circuit stands emptied after the wait, with at most `residual_max_g` left."""
        return self.rest.state == EMPTIED


def label_u_g(tolerance_g: float) -> float:
    """Return the standard uncertainty (g) of a label good to +- `tolerance_g`, taken as rectangular."""
    need_not_below_zero(tolerance=tolerance_g)
    return tolerance_g / sqrt(3)


def expected_after_leak(
    *, charged_g: float, u_charged_g: float, leak_g_per_year: float, u_leak_g_per_year: float, days: float
) -> tuple[float, float]:
    """Return (expected mass, its u) in grams: the last charge less a known leak over `days`, never below zero."""
    need_above_zero(charged_mass=charged_g)
    need_not_below_zero(
        uncertainty_of_the_charge=u_charged_g,
        leak=leak_g_per_year,
        uncertainty_of_the_leak=u_leak_g_per_year,
        number_of_days=days,
    )
    years = days / YEAR_DAYS
    return max(0.0, charged_g - leak_g_per_year * years), hypot(u_charged_g, u_leak_g_per_year * years)


def prove(recovery: Recovery) -> RecoveryAnswer:
    """Return whether what came out is what should have, with the numbers and what would change the verdict.

    `accounted for`: short by no more than vapour + oil allowance + 2 u. `arrived empty`: the standing pressure says
    `empty`, and no more came out than it allows. `not explained`: short beyond the limit, and the leak that would
    explain it is larger than this visit excludes, or the charge is a day old at most and no evidence of class A to C
    speaks for a loss. `short`: every other shortage beyond the limit. Where liquid may remain there is no bound; the
    limit is then 2 u alone, `limit_g` is None, and a caution asks for another recovery. Raises ``MeasurementError``,
    ``NoPropertyData``, ``OutsideModel``.
    """
    _check(recovery)
    missing_g = recovery.expected_g - recovery.recovered_g
    u_g = hypot(recovery.u_expected_g, recovery.u_recovered_g)
    rest = residue.left(recovery)
    vapour, oil = rest.vapour_g, rest.oil_g
    limit_g = None if vapour is None else vapour + oil + give_or_take(u_g)
    beyond_g = missing_g - (give_or_take(u_g) if limit_g is None else limit_g)
    leak_needed = _leak_needed(beyond_g, recovery.days_since_charge)
    verdict = _verdict(recovery, beyond_g, leak_needed)
    facts = _Facts(missing_g, u_g, vapour, oil, limit_g, beyond_g, leak_needed, _refusal(recovery), rest)
    return RecoveryAnswer(
        verdict=verdict,
        sentence=_sentence(verdict, recovery, facts),
        workings=_workings(recovery, facts),
        sources=SOURCES,
        cautions=(*_own_cautions(recovery, facts), *CAUTIONS),
        missing_g=missing_g,
        u_missing_g=u_g,
        vapour_max_g=vapour,
        oil_allowance_g=oil,
        residual_max_g=None if vapour is None else vapour + oil,
        limit_g=limit_g,
        leak_needed_g_per_year=leak_needed,
        evidence_letter=recovery.evidence.letter,
        refused=facts.refused,
        would_change=_would_change(verdict, recovery, facts),
        rest=rest,
        inside=recovery.space,
    )


@dataclass(frozen=True)
class _Facts:
    missing_g: float
    u_g: float
    vapour_g: float | None
    oil_g: float
    limit_g: float | None
    beyond_g: float
    leak_needed: float | None
    refused: str
    rest: Rest


def _check(recovery: Recovery) -> None:
    need_above_zero(
        expected_mass=recovery.expected_g,
        volume=recovery.space.low_m3,
        excluded_leak=recovery.leak_excluded_g_per_year,
    )
    need_not_below_zero(
        recovered_mass=recovery.recovered_g,
        uncertainty_of_the_expected_mass=recovery.u_expected_g,
        uncertainty_of_the_recovered_mass=recovery.u_recovered_g,
        number_of_days=recovery.days_since_charge,
    )


def _leak_needed(beyond_g: float, days: float | None) -> float | None:
    if days is None or days <= 0 or beyond_g <= 0:
        return None
    return beyond_g / days * YEAR_DAYS


def _stands_empty(recovery: Recovery) -> bool:
    standing = recovery.evidence.standing
    return standing is not None and standing.verdict == "empty"


def _more_than_stood(recovery: Recovery) -> bool:
    """Whether more came out than the standing pressure allows to have been inside."""
    standing = recovery.evidence.standing
    if standing is None or standing.at_most_g is None:
        return False
    return recovery.recovered_g > standing.at_most_g + give_or_take(recovery.u_recovered_g)


def _refusal(recovery: Recovery) -> str:
    standing = recovery.evidence.standing
    if not recovery.said_to_be_empty or _stands_empty(recovery):
        return ""
    if standing is None:
        return "Arrived empty is not shown: there is no standing pressure."
    return f"Not empty on arrival. {standing.sentence}"


def _verdict(recovery: Recovery, beyond_g: float, leak_needed: float | None) -> str:
    if _stands_empty(recovery) and not _more_than_stood(recovery):
        return "arrived empty"
    if beyond_g <= 0:
        return "accounted for"
    fresh = recovery.days_since_charge is not None and recovery.days_since_charge <= 1
    if fresh and recovery.evidence.letter not in WITNESSED:
        return "not explained"
    excluded = recovery.leak_excluded_g_per_year
    if leak_needed is not None and excluded is not None and leak_needed > excluded:
        return "not explained"
    return "short"


def _sentence(verdict: str, recovery: Recovery, facts: _Facts) -> str:
    """What came out; that it is emptied where it is, first where mass is missing; what was taken as not known."""
    came, rest = _came_sentence(verdict, recovery, facts), facts.rest
    if verdict == "arrived empty" or not rest.sentence:
        parts = [came]
    elif verdict == "accounted for":
        parts = [came, rest.sentence]
    else:
        gone = ["So what is short is not in it any more."] if rest.state == EMPTIED else []
        parts = [rest.sentence, came, *gone]
    if verdict != "arrived empty" and not recovery.space.is_one:
        parts.append(f"Inside volume taken: {recovery.space.words}.")
    return " ".join(parts)


def _came_sentence(verdict: str, recovery: Recovery, facts: _Facts) -> str:
    if verdict == "arrived empty":
        standing = recovery.evidence.standing
        bound = "" if standing is None or standing.at_most_g is None else f" (at most {at_most(standing.at_most_g)})"
        letter = recovery.evidence.letter
        return f"Arrived empty{bound}; {what_speaks(letter)}."
    limit = (
        "no bound on what remains, as liquid may be left" if facts.limit_g is None else f"limit {facts.limit_g:.1f} g"
    )
    amounts = f"{figure(recovery.recovered_g, 3)} g of {figure(recovery.expected_g, 3)} g came out"
    if facts.missing_g < 0:
        lead = f"{amounts}, {figure(-facts.missing_g, 3)} g more than expected"
    else:
        lead = f"{amounts}, {figure(facts.missing_g, 3)} g short ({limit})"
    ends = {
        "accounted for": "accounted for",
        "short": f"short; {_leak_words(recovery, facts)}",
        "not explained": f"not explained; {_contradiction(recovery, facts)}",
    }
    return f"{lead}: {ends[verdict]}."


def _leak_words(recovery: Recovery, facts: _Facts) -> str:
    standing = recovery.evidence.standing
    if standing is not None and standing.verdict == "vapour" and not _more_than_stood(recovery):
        return f"the standing pressure shows that no liquid came in ({EVIDENCE[recovery.evidence.letter]})"
    if facts.leak_needed is None:
        return "when it was last charged is not known, so no leak rate can be given"
    return f"a leak of at least {yearly(facts.leak_needed)} would explain it, which is arithmetic and not proof"


def _contradiction(recovery: Recovery, facts: _Facts) -> str:
    if facts.leak_needed is None or recovery.leak_excluded_g_per_year is None:
        return "it was charged a day ago at most"
    return (
        f"a leak of at least {yearly(facts.leak_needed)} would be needed, and this visit excludes more than "
        f"{yearly(recovery.leak_excluded_g_per_year)}"
    )


def _own_cautions(recovery: Recovery, facts: _Facts) -> tuple[str, ...]:
    own = []
    if facts.refused:
        own.append(facts.refused)
    if _more_than_stood(recovery):
        own.append("More came out than the standing pressure allows: one of the two readings is wrong.")
    if facts.vapour_g is None:
        own.append("The final pressure allows liquid inside: recover again until it stays below saturation.")
    if not recovery.has_waited:
        own.append("The pressure was not read 5 minutes after the machine stopped, so it bounds little.")
    if recovery.oil_g is None and recovery.oil_high_g is None:
        own.append("The amount of oil was not entered: nothing is allowed for what it holds.")
    own += facts.rest.taken
    if facts.missing_g < -give_or_take(facts.u_g):
        own.append("More came out than was expected: an overfilled system, oil or air, or another label.")
    return tuple(own)


def _would_change(verdict: str, recovery: Recovery, facts: _Facts) -> tuple[str, ...]:
    if verdict == "arrived empty":
        better = "A photograph of the gauge would be a witness of it." if recovery.evidence.letter != "A" else ""
        return ("A standing pressure above the atmosphere would owe a recovery.", *((better,) if better else ()))
    if verdict == "accounted for":
        turn_g = recovery.expected_g - (give_or_take(facts.u_g) if facts.limit_g is None else facts.limit_g)
        return (f"Less than {figure(max(0.0, turn_g), 3)} g recovered would be short.",)
    changes = []
    if facts.rest.state != EMPTIED:  # of an emptied circuit so much cannot be left
        changes.append(f"Another {figure(facts.beyond_g, 2)} g recovered would account for it.")
    if recovery.days_since_charge is None:
        changes.append("The date of the last charge would give the leak that explains it.")
    if recovery.oil_g is None and recovery.oil_high_g is None:
        changes.append("The amount of oil would allow for what it holds.")
    if recovery.evidence.letter not in ("A", "B"):
        changes.append("A photographed standing pressure on arrival would be the better witness.")
    if verdict == "not explained":
        changes.append("A leak found and photographed would make it short.")
    return tuple(changes)


def _within(u_g: float) -> str:
    return f"give or take {give_or_take(u_g):.2f} g"


def _workings(recovery: Recovery, facts: _Facts) -> tuple[tuple[str, str], ...]:
    vapour = "liquid may remain" if facts.vapour_g is None else f"{facts.vapour_g:.1f} g"
    coldest_k = COLD_K if recovery.temperature_k is None else recovery.temperature_k
    at = f"{bar(recovery.top_pa)} absolute, {celsius_read(coldest_k)}"
    return (
        ("Expected", f"{figure(recovery.expected_g, 3)} g, {_within(recovery.u_expected_g)}"),
        ("Recovered", f"{figure(recovery.recovered_g, 3)} g, {_within(recovery.u_recovered_g)}"),
        ("Short = expected - recovered", f"{facts.missing_g:.0f} g"),
        ("Inside volume", recovery.space.words),
        (f"Vapour that can remain, inside volume x its density at {at}", vapour),
        ("Oil allowance, 5 % of the oil", f"{facts.oil_g:.1f} g"),
        ("Give or take of label and readings", f"{give_or_take(facts.u_g):.1f} g"),
        ("Counts as emptied", f"after the wait under {bar(EMPTIED_BELOW_PA)} absolute and the air outside"),
        ("Limit", "none" if facts.limit_g is None else f"{facts.limit_g:.1f} g"),
        ("What speaks for a loss before arrival", EVIDENCE[recovery.evidence.letter]),
    )
