"""What refrigerants weigh in the air: global warming and ozone depletion potentials, by their published bases.

A blend is worked out from its parts by mass fraction and never stored. Where nothing is published the answer
is `NoFigure` with the reason in a sentence: never a zero, never a neighbour's value.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from decimal import Decimal, localcontext
from functools import lru_cache

from inventory.gases.catalogue import MIXED, Refrigerant, quoted, refrigerant
from inventory.gases.rows import is_from_memory, rows

GWP_BASES: tuple[str, ...] = ("SAR", "TAR", "AR4", "AR5", "AR6", "EU", "US")
"""EU: annexes of Regulation (EU) 2024/573. US: exchange values of 42 U.S.C. 7675. The others: IPCC reports."""
FORMER_GWP_BASES: tuple[str, ...] = ("EU-517-2014",)
"""Answered for records of their time, not offered for new ones. Regulation (EU) 517/2014 ended on 10 March 2024."""
ODP_BASES: tuple[str, ...] = ("montreal", "us-cfr", "us-statute")
AIR = "air"
"""The name of air in a measured composition. It counts nothing, on any basis."""
_UNLISTED = "unlisted"
_OZONE_FAMILIES = frozenset({"CFC", "HCFC"})
_FAMILIES_WITHOUT_OZONE_EFFECT = frozenset({"HFC", "PFC", "HFO", "HC", "natural", "ether"})
# A measured composition is printed to a tenth of a percent or to whole percents, so its lines may add up to
# slightly more than the whole. One percent is also the weight tolerance of (EU) 2024/573 Annex VI.
_LARGEST_SUM = Decimal("1.01")


class NoFigure(LookupError):
    """No published figure exists for this refrigerant on this basis; the message says for which part."""


@dataclass(frozen=True)
class Figure:
    """A number, where it is from, and whether any of it comes from memory and wants checking."""

    value: Decimal
    source: str
    from_memory: bool


@lru_cache(maxsize=1024)
def gwp(code: str, basis: str) -> Figure:
    """Return the 100-year global warming potential, kg CO2 per kg, unrounded.

    A blend is the sum over all its parts of mass fraction times figure ((EU) 2024/573 Annex VI, 40 CFR
    84.64(b)), and its source says so. A part that the basis does not list counts as 0 only where the law of
    that basis says so (EU and US), never for an ozone-depleting substance, and never when no part is listed.
    The hydrocarbon figures of AR4 are those that (EU) 517/2014 Annex IV states on that basis.
    `basis` is one of `GWP_BASES` or `FORMER_GWP_BASES`, else ``ValueError``.
    Raises `UnknownRefrigerant`, and `NoFigure` where a part has no published figure.
    """
    _check_basis(basis, GWP_BASES + FORMER_GWP_BASES)
    wanted = refrigerant(code)
    if code == MIXED:
        raise NoFigure(f"A mixed content has no GWP of its own (basis {basis}): it needs a measured composition.")
    if not wanted.is_blend:
        return _pure_gwp(code, basis)
    return _blend_figure(wanted, _gwp_parts(code, dict(wanted.components), basis))


@lru_cache(maxsize=1024)
def odp(code: str, basis: str = "montreal") -> Figure:
    """Return the ozone depletion potential, kg CFC-11 per kg, on one of `ODP_BASES`; a blend by mass fraction.

    0 for a substance without ozone effect, and for one that the basis does not control; the source says which.
    Raises `UnknownRefrigerant`, `NoFigure`, and ``ValueError`` for an unknown basis.
    """
    _check_basis(basis, ODP_BASES)
    wanted = refrigerant(code)
    if code == MIXED:
        raise NoFigure(f"A mixed content has no ODP of its own (basis {basis}): it needs a measured composition.")
    if not wanted.is_blend:
        return _pure_odp(code, basis)
    return _blend_figure(wanted, _odp_parts(dict(wanted.components), basis))


def mixture_gwp(parts: Mapping[str, Decimal], basis: str) -> Figure:
    """Return the GWP of a measured composition, kg CO2 per kg of the whole content.

    `parts` maps codes (a blend counts by its own parts) and ``"air"`` to mass fractions of the content, each
    from 0 to 1. They may add up to less than 1: what was not identified, like air, counts nothing. A sum up to
    1.01 is accepted, since printed percentages are rounded.
    Raises ``ValueError`` for impossible fractions or no refrigerant at all, else as `gwp` does.
    """
    _check_basis(basis, GWP_BASES + FORMER_GWP_BASES)
    return _measured(parts, _gwp_parts("The measured composition", _expanded(parts), basis))


def mixture_odp(parts: Mapping[str, Decimal], basis: str) -> Figure:
    """Return the ODP of a measured composition, kg CFC-11 per kg of the whole content; see `mixture_gwp`."""
    _check_basis(basis, ODP_BASES)
    return _measured(parts, _odp_parts(_expanded(parts), basis))


def co2e_mg(code: str, mass_mg: int, basis: str) -> int:
    """Return the CO2 equivalent of a mass, in milligrams of CO2, half up to the whole milligram.

    Exact: the unrounded GWP is used. A negative mass (a reversal) gives the exact opposite. Raises as `gwp`.
    """
    return equivalent_mg(gwp(code, basis).value, mass_mg)


def equivalent_mg(potential: Decimal, mass_mg: int) -> int:
    """Return `mass_mg` times a GWP or ODP, in milligrams, rounded once, half up (away from zero)."""
    numerator, denominator = potential.as_integer_ratio()
    whole, rest = divmod(abs(mass_mg) * numerator, denominator)
    rounded = whole + (2 * rest >= denominator)
    return rounded if mass_mg >= 0 else -rounded


@dataclass(frozen=True)
class _Part:
    code: str
    fraction: Decimal
    figure: Figure


def _pure_gwp(code: str, basis: str) -> Figure:
    figure = _gwp_rows().get((code, basis))
    if figure is None:
        raise NoFigure(f"{code} has no GWP on basis {basis}: {_why_no_gwp(code, basis)}")
    return figure


def _why_no_gwp(code: str, basis: str) -> str:
    if basis == "EU" and refrigerant(code).family in _OZONE_FAMILIES:
        return (
            "(EU) 2024/573 does not list ozone-depleting substances. (EU) 2024/590 does, but its annex as adopted was "
            f"not read, so no figure of it is taken.{_has_one(code)}"
        )
    if basis == "US" and refrigerant(code).family == "HFO":
        return (
            "42 U.S.C. 7675(c) gives exchange values of hydrofluorocarbons alone and does not list it; its rule for "
            f"unlisted parts holds within a blend only.{_has_one(code)}"
        )
    if (_UNLISTED, basis) in _gwp_rows():
        return "the law does not list it, and its rule for unlisted parts holds within a blend only."
    return "no published figure is in the catalogue."


def _has_one(code: str) -> str:
    return " The newest report of the IPCC has one: AR6." if (code, "AR6") in _gwp_rows() else ""


def _gwp_parts(whole: str, fractions: Mapping[str, Decimal], basis: str) -> list[_Part]:
    rows = _gwp_rows()
    if not any((code, basis) in rows for code in fractions):
        raise NoFigure(f"{whole} has no GWP on basis {basis}: none of its parts has a published figure.")
    parts = []
    for code, fraction in fractions.items():
        figure = rows.get((code, basis))
        if figure is None and refrigerant(code).family not in _OZONE_FAMILIES:
            figure = rows.get((_UNLISTED, basis))
        if figure is None:
            why = _why_no_gwp(code, basis)
            raise NoFigure(f"{whole} has no GWP on basis {basis}, since its part {code} has none: {why}")
        parts.append(_Part(code, fraction, figure))
    return parts


def _pure_odp(code: str, basis: str) -> Figure:
    figure = _odp_rows().get((code, basis))
    if figure is not None:
        return figure
    family = refrigerant(code).family
    if family in _OZONE_FAMILIES:
        raise NoFigure(f"{code} has no ODP on basis {basis}: no published figure is in the catalogue.")
    if family in _FAMILIES_WITHOUT_OZONE_EFFECT:
        return Figure(Decimal(0), "not an ozone-depleting substance", False)
    return Figure(Decimal(0), f"not a controlled substance on basis {basis}, so it counts 0", False)


def _odp_parts(fractions: Mapping[str, Decimal], basis: str) -> list[_Part]:
    return [_Part(code, fraction, _pure_odp(code, basis)) for code, fraction in fractions.items()]


def _expanded(parts: Mapping[str, Decimal]) -> dict[str, Decimal]:
    """Return the pure substances of a measured composition with their fractions, air left out."""
    _check_fractions(parts)
    pure: dict[str, Decimal] = {}
    for code, fraction in parts.items():
        if code == AIR:
            continue
        if code == MIXED:
            raise NoFigure("A mixed content cannot be a part of a composition: it needs one of its own.")
        for component, share in refrigerant(code).components:
            pure[component] = pure.get(component, Decimal(0)) + fraction * share
    if not pure:
        raise ValueError("The composition names no refrigerant.")
    return pure


def _check_fractions(parts: Mapping[str, Decimal]) -> None:
    for code, fraction in parts.items():
        if not fraction.is_finite() or not 0 <= fraction <= 1:
            raise ValueError(f"The share of {quoted(code)} must lie between 0 and 100 %.")
    total = sum(parts.values(), Decimal(0))
    if total > _LARGEST_SUM:
        raise ValueError(f"The shares add up to {_percent(total)} %, which is more than the whole.")


def _blend_figure(blend: Refrigerant, parts: list[_Part]) -> Figure:
    composition = _sentence("Composition", blend.composition_source)
    return _weighted("Sum by nominal mass fraction", parts, composition, blend.composition_from_memory)


def _measured(composition: Mapping[str, Decimal], parts: list[_Part]) -> Figure:
    measured = ", ".join(f"{_percent(fraction)} % {code}" for code, fraction in composition.items())
    blends = [refrigerant(code) for code in composition if code != AIR and refrigerant(code).is_blend]
    nominal = dict.fromkeys(_sentence(f"Composition of {each.code}", each.composition_source) for each in blends)
    return _weighted(
        f"Sum by mass fraction of the composition as measured ({measured})",
        parts,
        " ".join(nominal),
        any(each.composition_from_memory for each in blends),
    )


def _weighted(how: str, parts: Iterable[_Part], composition: str, composition_from_memory: bool) -> Figure:
    parts = tuple(parts)
    with localcontext(prec=60):
        value = sum((part.fraction * part.figure.value for part in parts), Decimal(0))
    terms = ", ".join(f"{_percent(part.fraction)} % {part.code} at {part.figure.value}" for part in parts)
    sources = "; ".join(dict.fromkeys(part.figure.source for part in parts))
    text = " ".join(filter(None, (f"{how}: {terms}.", _sentence("Figures", sources), composition)))
    return Figure(value, text, composition_from_memory or any(part.figure.from_memory for part in parts))


def _sentence(label: str, text: str) -> str:
    return f"{label}: {text}."


def _percent(fraction: Decimal) -> str:
    return f"{(fraction * 100).normalize():f}"


def _check_basis(basis: str, known: tuple[str, ...]) -> None:
    if basis not in known:
        raise ValueError(f"{quoted(basis)} is not a basis. The bases are {', '.join(known)}.")


def _figures(name: str, column: str) -> dict[tuple[str, str], Figure]:
    return {
        (row["code"], row["basis"]): Figure(Decimal(row[column]), row["source"], is_from_memory(row))
        for row in rows(name)
    }


@lru_cache(maxsize=1)
def _gwp_rows() -> dict[tuple[str, str], Figure]:
    return _figures("gwp.csv", "gwp100")


@lru_cache(maxsize=1)
def _odp_rows() -> dict[tuple[str, str], Figure]:
    return _figures("odp.csv", "odp")
