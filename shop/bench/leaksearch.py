"""The leak search: what was looked at, with what, and what that together with a hold can say.

Vocabulary: a *method* is how leaks are looked for; its *sensitivity* is the smallest leak (grams a year) that the
instrument's papers or the person give for it; a *joint* is any place that may leak and was looked at. "No leak found"
is never said without its limit and never of a joint that was not looked at.

Errors: ``MeasurementError`` for what cannot be or must not be done, with a sentence.
"""

from dataclasses import dataclass

from shop.bench.answers import INSTRUCTIONS_FIRST, Answer, MeasurementError, bar, need_above_zero, yearly
from shop.bench.hold import HoldAnswer

COMMON_JOINTS = 10
REFRIGERANT, NITROGEN, NITROGEN_HYDROGEN = "refrigerant", "nitrogen", "nitrogen-hydrogen"
GASES = (REFRIGERANT, NITROGEN, NITROGEN_HYDROGEN)


@dataclass(frozen=True)
class Method:
    """A way to look for leaks and the gases inside that it can notice."""

    words: str
    notices: tuple[str, ...]


METHODS = {
    "electronic": Method("electronic search", (REFRIGERANT,)),
    "hydrogen": Method("hydrogen sensor", (NITROGEN_HYDROGEN,)),
    "bubbles": Method("bubble search", GASES),
    "dye": Method("search for dye under ultraviolet light", (REFRIGERANT,)),
    "ultrasonic": Method("ultrasonic search", GASES),
    "eye": Method("search by eye", GASES),
}

SOURCES = (
    "Detectors used for legal checks: 5 g a year or better, checked yearly: Regulation (EC) 1516/2007, EN 14624:2012 "
    "(read second-hand)",
    "About ten joints looked at: common practice, no source",
)
CAUTIONS = (
    "Refrigerant near hot surfaces turns into acid fumes: leave, and air the place.",
    "Flammable refrigerant or gas: no ignition source, and an instrument made for it.",
    INSTRUCTIONS_FIRST,
)


@dataclass(frozen=True, kw_only=True)
class LeakSearch:
    """A search as it was done. `leaking` are those of `joints` that leak; a pressure inside is absolute.

    `named` is false where the joints were only counted: they stand then as numbers, and no sentence names them.
    `sensitivity_g_per_year` is None where nobody can say. `gas` is one of ``GASES``.
    """

    method: str
    joints: tuple[str, ...]
    leaking: tuple[str, ...] = ()
    sensitivity_g_per_year: float | None = None
    gas: str = NITROGEN
    gas_pressure_pa: float
    atmosphere_pa: float = 101_325.0
    instrument: str = ""
    named: bool = True


def judge(search: LeakSearch, hold: HoldAnswer | None = None) -> Answer:
    """Return what the search, and the hold if there was one, can say in one sentence.

    Verdicts: `leak-found`, `no-leak-found`, `cannot-tell`.

    Raises ``MeasurementError`` for an unknown method or gas, a flame, a leaking joint that is not among those looked
    at, a joint named twice, and a sensitivity or pressure not above zero.
    """
    _check(search)
    verdict = _verdict(search)
    return Answer(
        verdict=verdict,
        sentence=_sentence(verdict, search, hold),
        workings=_workings(search, hold),
        sources=SOURCES,
        cautions=(*_own_cautions(search), *CAUTIONS),
    )


def _check(search: LeakSearch) -> None:
    if search.method in ("flame", "torch", "flame torch"):
        raise MeasurementError("A flame torch is not used: refrigerant in a flame turns into acid fumes.")
    if search.method not in METHODS:
        raise MeasurementError(f"The method is one of: {', '.join(METHODS)}.")
    if search.gas not in GASES:
        raise MeasurementError(f"The gas inside is one of: {', '.join(GASES)}.")
    need_above_zero(
        sensitivity=search.sensitivity_g_per_year,
        absolute_pressure_inside=search.gas_pressure_pa,
        atmospheric_pressure=search.atmosphere_pa,
    )
    if len(set(search.joints)) != len(search.joints):
        raise MeasurementError("A joint is named twice.")
    strangers = [joint for joint in search.leaking if joint not in search.joints]
    if strangers:
        raise MeasurementError(f"{strangers[0]} is said to leak but is not among the joints looked at.")


def _blind(search: LeakSearch) -> str:
    """Why this search could not have found anything, or nothing."""
    if not search.joints:
        return "no joint was looked at"
    if search.gas_pressure_pa <= search.atmosphere_pa:
        return "there was no pressure inside, so nothing could come out"
    return unnoticed(search.method, search.gas)


def unnoticed(method: str, gas: str) -> str:
    """Say that a method does not notice the gas inside; empty where it does, or is none of `METHODS`."""
    way = METHODS.get(method)
    if way is None or gas in way.notices:
        return ""
    return f"{'an' if way.words[0] in 'aeiou' else 'a'} {way.words} does not notice {gas}"


def _verdict(search: LeakSearch) -> str:
    if search.leaking:
        return "leak-found"
    return "cannot-tell" if _blind(search) else "no-leak-found"


def _sentence(verdict: str, search: LeakSearch, hold: HoldAnswer | None) -> str:
    words = METHODS[search.method].words
    looked = f"{len(search.joints)} {'joint' if len(search.joints) == 1 else 'joints'} looked at"
    if verdict == "leak-found":
        found = f"{words}: {len(search.leaking)} of the {looked} {'leaks' if len(search.leaking) == 1 else 'leak'}"
        first = f"{found} ({', '.join(search.leaking)})" if search.named else found
    elif verdict == "cannot-tell":
        first = f"{words}: cannot tell, because {_blind(search)}"
    elif search.sensitivity_g_per_year is None:
        first = f"{words}: none found at the {looked}, and nobody said how small a leak it could have seen"
    else:
        first = f"{words}: none above {yearly(search.sensitivity_g_per_year)} at the {looked}"
    return f"{first[0].upper()}{first[1:]}{_hold_words(verdict, hold)}."


def _hold_words(verdict: str, hold: HoldAnswer | None) -> str:
    if hold is None:
        return "; no pressure hold beside it"
    if verdict != "leak-found" and hold.verdict == "falling":
        return "; but the pressure hold is falling, so a place that leaks was not found"
    if hold.verdict == "no-leak-larger":
        return f"; pressure hold: {hold.words}, a coarse check"
    return f"; pressure hold: {hold.words}"


def _own_cautions(search: LeakSearch) -> tuple[str, ...]:
    own = []
    if len(search.joints) < COMMON_JOINTS:
        own.append(f"About ten joints are usually looked at (common practice); here {len(search.joints)}.")
    if search.method == "dye" and not search.leaking:
        own.append("Dye shows a leak only after the system has run with it for some time.")
    return tuple(own)


def _workings(search: LeakSearch, hold: HoldAnswer | None) -> tuple[tuple[str, str], ...]:
    sensitivity = search.sensitivity_g_per_year
    return (
        ("Method", METHODS[search.method].words),
        ("Instrument", search.instrument or "not entered"),
        ("Smallest leak it can see", "not entered" if sensitivity is None else yearly(sensitivity)),
        ("Gas inside", f"{search.gas}, {bar(search.gas_pressure_pa)} absolute"),
        ("Joints looked at", _listed(search, search.joints) or "none"),
        ("Joints leaking", _listed(search, search.leaking) or "none found"),
        ("Pressure hold", "not measured" if hold is None else hold.words),
    )


def _listed(search: LeakSearch, joints: tuple[str, ...]) -> str:
    return ", ".join(joints) if search.named or not joints else str(len(joints))
