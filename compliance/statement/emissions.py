"""What the masses of a period are worth in CO2 and in ozone depletion, on one basis that is printed with each.

Two totals are kept apart and never added: substances that deplete the ozone layer, and the others (HFC and their
successors). Where no figure is published, or a mixed content was not analysed, the answer is a sentence and never
a zero. Nothing at all is worth nothing, on every basis.
"""

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal

from compliance.statement.balance import AIR, CHARGED, PERIOD, SENT_AWAY, TO_AIR, Balance, Sum, flows_of
from inventory import causes
from inventory.gases import catalogue, potentials

Composition = Mapping[str, Decimal]

NOT_MEASURED = "composition not measured"
ODP_BASIS = "montreal"

CLOSING = "closing"
MEASURES = (CHARGED, SENT_AWAY, AIR, *TO_AIR, CLOSING)


@dataclass(frozen=True)
class Lot:
    """A mass of one composition; `composition` is None for what the refrigerant's designation says."""

    mass_mg: int
    composition: Composition | None = None


@dataclass(frozen=True)
class Worth:
    """What one mass is worth: milligrams of CO2 and of CFC-11, None where it cannot be computed, and why not."""

    mass_mg: int
    co2e_mg: int | None
    odp_mg: int | None
    notes: tuple[str, ...] = ()


@dataclass(frozen=True)
class Impact:
    """All measures of one refrigerant, and whether it depletes the ozone layer (None: not known)."""

    refrigerant: str
    depletes_ozone: bool | None
    worth: Mapping[str, Worth]

    @property
    def notes(self) -> tuple[str, ...]:
        """Every reason why a figure is missing, once."""
        return tuple(dict.fromkeys(note for each in self.worth.values() for note in each.notes))


@dataclass(frozen=True)
class Total:
    """The sum of one measure over refrigerants of one type; `without` names those that could not be counted."""

    measure: str
    mass_mg: int
    co2e_mg: int
    odp_mg: int
    without_co2e: tuple[str, ...]
    without_odp: tuple[str, ...]


@dataclass(frozen=True)
class Source:
    """A published figure that the report used."""

    refrigerant: str
    quantity: str
    basis: str
    value: Decimal | None
    text: str
    from_memory: bool


def worth(code: str, lots: Iterable[Lot], basis: str) -> Worth:
    """Return what the lots of one refrigerant are worth on a GWP basis and on the Montreal Protocol's ODP.

    Each lot is rounded once, half up, to the whole milligram. `basis` is one of `potentials.GWP_BASES`.
    """
    found = [(lot.mass_mg, _gwp(code, lot, basis), _odp(code, lot)) for lot in lots if lot.mass_mg]
    return Worth(
        mass_mg=sum(mass_mg for mass_mg, _, _ in found),
        co2e_mg=_equivalent_mg((gwp, mass_mg) for mass_mg, (gwp, _), _ in found),
        odp_mg=_equivalent_mg((odp, mass_mg) for mass_mg, _, (odp, _) in found),
        notes=tuple(dict.fromkeys(why_not for _, *both in found for _, why_not in both if why_not)),
    )


def _equivalent_mg(lots: Iterable[tuple[potentials.Figure | None, int]]) -> int | None:
    """Return the sum of masses times their figures; None where a figure is missing."""
    counted = [figure and potentials.equivalent_mg(figure.value, mass_mg) for figure, mass_mg in lots]
    return None if None in counted else sum(each or 0 for each in counted)


def impact(balance: Balance, basis: str, mixed: "MixedContent | None" = None) -> Impact:
    """Return the worth of every measure of a balance; mixed content counts by the analyses of its accounts."""
    masses = {measure: getattr(balance, measure).mass_mg for measure in MEASURES if measure != CLOSING}
    masses[CLOSING] = balance.closing_mg
    code = balance.refrigerant
    if code == catalogue.MIXED and mixed is not None:
        lots = {measure: mixed.lots(measure) for measure in masses}
        depletes = mixed.depletes_ozone
    else:
        lots = {measure: (Lot(mass),) for measure, mass in masses.items()}
        depletes = None if code == catalogue.MIXED else catalogue.refrigerant(code).contains_ods
    return Impact(code, depletes, {measure: worth(code, lots[measure], basis) for measure in masses})


def totals(impacts: Sequence[Impact], *, depletes_ozone: bool) -> tuple[Total, ...]:
    """Return each measure's sum over the ozone-depleting refrigerants, or over the others.

    A content of unknown type stands with the others and is named there as not counted.
    """
    chosen = [each for each in impacts if bool(each.depletes_ozone) == depletes_ozone]
    return tuple(_total(measure, chosen) for measure in MEASURES)


def sources(codes: Iterable[str], basis: str) -> tuple[Source, ...]:
    """Return the GWP and ODP figure of each refrigerant with its source, or the sentence that says why none is."""
    found = []
    for code in codes:
        if code == catalogue.MIXED:
            continue
        lot = Lot(1)
        for quantity, on, (figure, why_not) in (
            ("GWP, 100 years", basis, _gwp(code, lot, basis)),
            ("ODP", ODP_BASIS, _odp(code, lot)),
        ):
            if figure is None:
                found.append(Source(code, quantity, on, None, why_not, False))
            else:
                found.append(Source(code, quantity, on, figure.value, figure.source, figure.from_memory))
    return tuple(found)


def lacking(codes: Iterable[str], basis: str) -> tuple[str, ...]:
    """Return the refrigerants for which a GWP basis has no figure, mixed content left out."""
    return tuple(code for code in codes if code != catalogue.MIXED and _gwp(code, Lot(1), basis)[0] is None)


@dataclass(frozen=True)
class MixedContent:
    """Mixed content by account: the sums of its movements with their accounts, and what analyses showed."""

    sums: tuple[Sum, ...]
    compositions: Mapping[int, Composition]

    @property
    def depletes_ozone(self) -> bool | None:
        """Whether a part found in any of it depletes the ozone layer; None where nothing was measured."""
        parts = {part for parts in self.compositions.values() for part in parts if part != potentials.AIR}
        return any(catalogue.refrigerant(part).contains_ods for part in parts) if parts else None

    def lots(self, measure: str) -> tuple[Lot, ...]:
        """Return the masses of one measure, each with the composition of the account it belongs to."""
        masses: dict[int, int] = {}
        for each in self.sums:
            for account, mass_mg in _mixed_masses(measure, each):
                masses[account] = masses.get(account, 0) + mass_mg
        return tuple(Lot(mass, self.compositions.get(account)) for account, mass in masses.items())


def _mixed_masses(measure: str, each: Sum) -> tuple[tuple[int, int], ...]:
    into, out = each.target in causes.STOCK_KINDS, each.source in causes.STOCK_KINDS
    if measure == CLOSING:
        ends = ((each.target_account, each.mass_mg * into), (each.source_account, -each.mass_mg * out))
        return tuple(end for end in ends if end[1])
    counted = each.phase == PERIOD and measure in flows_of(each)
    return ((each.source_account, each.mass_mg),) if counted else ()


def _gwp(code: str, lot: Lot, basis: str) -> tuple[potentials.Figure | None, str]:
    return _figure(code, lot, basis, potentials.gwp, potentials.mixture_gwp)


def _odp(code: str, lot: Lot) -> tuple[potentials.Figure | None, str]:
    return _figure(code, lot, ODP_BASIS, potentials.odp, potentials.mixture_odp)


def _figure(
    code: str,
    lot: Lot,
    basis: str,
    of_one: Callable[[str, str], potentials.Figure],
    of_mixture: Callable[[Composition, str], potentials.Figure],
) -> tuple[potentials.Figure | None, str]:
    """Return the figure of a lot, or None and the sentence that says why there is none."""
    try:
        if code != catalogue.MIXED:
            return of_one(code, basis), ""
        if lot.composition is None:
            return None, f"{code}: {NOT_MEASURED}"
        return of_mixture(lot.composition, basis), ""
    except potentials.NoFigure as error:
        return None, str(error)


def _total(measure: str, impacts: Sequence[Impact]) -> Total:
    found = [(each.refrigerant, each.worth[measure]) for each in impacts]
    return Total(
        measure=measure,
        mass_mg=sum(each.mass_mg for _, each in found),
        co2e_mg=sum(each.co2e_mg or 0 for _, each in found),
        odp_mg=sum(each.odp_mg or 0 for _, each in found),
        without_co2e=tuple(code for code, each in found if each.co2e_mg is None),
        without_odp=tuple(code for code, each in found if each.odp_mg is None),
    )
