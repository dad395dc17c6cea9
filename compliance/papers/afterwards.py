"""Where the gas of a visit went and what it is worth to the climate, in words for its papers."""

from collections.abc import Iterable
from dataclasses import dataclass
from decimal import Decimal

from compliance.papers.ofvisit import Leg, OfVisit
from compliance.statement import emissions
from compliance.statement.emissions import Lot, Worth
from compliance.statement.sums import PURPOSE_OF_CAUSE as AWAY
from inventory import causes
from inventory.gases.catalogue import MIXED
from inventory.measure.displays import co2e_said
from inventory.models import Consignment, Movement
from inventory.shelf.queries import content_of
from shop.visits.gas import identified_parts

OTHERWISE = (
    "charge",
    "transfer",
    "regrade",
    "re-identified",
    "was-oil",
    "purge",
    "leaked-from-stock",
    "scrapped-with-rest",
    "missing",
)


@dataclass(frozen=True)
class Whereabouts:
    """Where the gas of one leg is by the book, and the lines that say so."""

    words: str
    lines: tuple[int, ...]


def whereabouts(one: OfVisit, leg: Leg, *, to_whom: bool) -> Whereabouts:
    """Return where the gas of a leg is as far as the book says; `to_whom` names the partner it went to.

    A cylinder holds gas of several vehicles, so what left it since may be this gas or other gas of it.
    """
    cylinder, since = leg.cylinder, _left_since(leg)
    away = [each for each in since if each.cause in AWAY]
    parts = [f"Into {cylinder} as {leg.movement.refrigerant} {leg.movement.grade}, line {leg.seq}"]
    parts += [_sent(one, each, to_whom=to_whom) for each in away]
    if other := _otherwise(one, since):
        parts.append(other)
    parts.append(_holds_now(one, leg))
    return Whereabouts("; ".join(parts) + ".", tuple(int(each.entry.seq) for each in away))


def _left_since(leg: Leg) -> list[Movement]:
    rows = Movement.objects.standing().filter(source=leg.cylinder, pk__gt=leg.movement.pk)
    return list(rows.select_related("entry__consignment__partner").order_by("pk"))


def sent_since(leg: Leg) -> list[Movement]:
    """Return the lines by which gas went away from the cylinder of a leg since."""
    return [each for each in _left_since(leg) if each.cause in AWAY]


def _sent(one: OfVisit, movement: Movement, *, to_whom: bool) -> str:
    paper: Consignment | None = getattr(movement.entry, "consignment", None)
    words = f"{one.mass(int(movement.mass_mg))} of its content {causes.CAUSES[movement.cause].words}"
    words += f" on {one.wording.day(movement.entry.occurred_at)}"
    if paper is not None:
        words += f" for {paper.purpose}"
        if to_whom:
            words += f" to {paper.partner}, {' '.join(paper.partner.address.split()) or 'address not entered'}"
            words += f", consignment {paper.number}"
    return f"{words}, line {movement.entry.seq}"


def _otherwise(one: OfVisit, since: Iterable[Movement]) -> str:
    sums: dict[str, int] = {}
    for each in since:
        if each.cause in OTHERWISE:
            sums[each.cause] = sums.get(each.cause, 0) + int(each.mass_mg)
    if not sums:
        return ""
    parts = ", ".join(f"{one.mass(mass)} {causes.CAUSES[cause].words}" for cause, mass in sums.items())
    return f"other gas or this left it since: {parts}"


def _holds_now(one: OfVisit, leg: Leg) -> str:
    content = content_of(leg.cylinder)
    if content is None:
        return f"{leg.cylinder} holds nothing now"
    return f"{leg.cylinder} holds {one.mass(content[2])} {content[0]} {content[1]} now, from all that came into it"


@dataclass(frozen=True)
class Climate:
    """What a visit's gas is worth in CO2: one line of words, figures in milligrams, and the sources of the GWPs."""

    words: str
    figures: dict[str, int | None]
    sources: tuple[str, ...]
    basis: str


def climate_of(one: OfVisit) -> Climate:
    """Return what went to air in the workshop's hands, on the road, and what the charge would be worth."""
    whose = causes.CAUSES
    ours = [each for each in one.beside if whose[each.cause].whose_air == causes.WORKSHOP]
    road = [each for each in one.beside if whose[each.cause].whose_air == causes.ON_THE_ROAD]
    charged = [leg.movement for leg in one.into]
    hands = _said(one, ours) if ours else "no line of this visit has any"
    parts = [f"Written as gone to air in the workshop's hands: {hands}"]
    if road:
        parts.append(f"lost before it came here: {_said(one, road)}")
    if charged:
        parts.append(f"the charge, were it to get out: {_said(one, charged)}")
    basis = one.workshop.gwp_basis
    figures = {
        "air_workshop_mg": _mass(ours),
        "air_workshop_co2e_mg": worth_of(one, ours).co2e_mg,
        "air_road_mg": _mass(road),
        "air_road_co2e_mg": worth_of(one, road).co2e_mg,
        "charge_co2e_mg": worth_of(one, charged).co2e_mg,
    }
    codes = dict.fromkeys(each.refrigerant for each in (*ours, *road, *charged))
    words = f"{'; '.join(parts)} (GWP basis {basis}).{_residue_beside(one, ours)}"
    return Climate(words, figures, gwp_sources(codes, basis), basis)


def _residue_beside(one: OfVisit, ours: Iterable[Movement]) -> str:
    """Say what recovery can have left inside, where no line holds it: it went with the vacuum."""
    rest = one.shared.rest
    if rest is None or rest.at_most_g is None or any(each.cause == "evacuated-residue" for each in ours):
        return ""
    bound = one.mass_at_most(rest.at_most_g)
    return f" What recovery can have left inside, {bound}, is in no line."


def worth_of(one: OfVisit, moved: Iterable[Movement]) -> Worth:
    """Return what movements are worth on the workshop's basis; a mixture by what the identifier showed."""
    sums: dict[str, int] = {}
    for each in moved:
        sums[each.refrigerant] = sums.get(each.refrigerant, 0) + int(each.mass_mg)
    shown = {code: Decimal(share) for code, share in identified_parts(one.visit).items()}
    worths = [
        emissions.worth(code, [Lot(mass, (shown or None) if code == MIXED else None)], one.workshop.gwp_basis)
        for code, mass in sums.items()
    ]
    known = [each.co2e_mg for each in worths if each.co2e_mg is not None]
    notes = tuple(note for each in worths for note in each.notes)
    return Worth(sum(sums.values()), sum(known) if len(known) == len(worths) else None, None, notes)


def _mass(moved: Iterable[Movement]) -> int:
    return sum(int(each.mass_mg) for each in moved)


def _said(one: OfVisit, moved: Iterable[Movement]) -> str:
    worth = worth_of(one, moved)
    mass = one.mass(worth.mass_mg)
    if worth.co2e_mg is None:
        return f"{mass}, no CO2 figure ({' '.join(worth.notes).rstrip('.')})"
    return f"{mass}, {co2e_said(worth.co2e_mg, one.wording.units.mass)}"


def gwp_sources(codes: Iterable[str], basis: str) -> tuple[str, ...]:
    """Return each GWP that was used with where it is from."""
    rows = [each for each in emissions.sources(codes, basis) if each.quantity.startswith("GWP")]
    return tuple(
        f"GWP of {each.refrigerant} ({each.basis}): {f'{each.value:f}' if each.value is not None else 'no figure'}, "
        f"{each.text}{' (from memory)' if each.from_memory else ''}"
        for each in rows
    )
