"""Where recovered gas went, in words for the papers of a visit."""

from collections.abc import Iterable
from dataclasses import dataclass

from compliance.papers.ofvisit import Leg, OfVisit
from inventory import causes
from inventory.models import Consignment, Movement
from inventory.shelf.queries import content_of

AWAY = ("sent-away", "heel-returned", "passed-on", "moved-to-sister")
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
    cylinder = leg.cylinder
    rows = (
        Movement.objects.standing()
        .filter(source=cylinder, pk__gt=leg.movement.pk)
        .select_related("entry__consignment__partner")
    )
    since = list(rows.order_by("pk"))
    away = [each for each in since if each.cause in AWAY]
    parts = [f"Into {cylinder} as {leg.movement.refrigerant} {leg.movement.grade}, line {leg.seq}"]
    parts += [_sent(one, each, to_whom=to_whom) for each in away]
    if other := _otherwise(one, since):
        parts.append(other)
    parts.append(_holds_now(one, leg))
    return Whereabouts("; ".join(parts) + ".", tuple(int(each.entry.seq) for each in away))


def _sent(one: OfVisit, movement: Movement, *, to_whom: bool) -> str:
    paper: Consignment | None = getattr(movement.entry, "consignment", None)
    words = f"{one.mass(int(movement.mass_mg))} of its content {causes.CAUSES[movement.cause].words}"
    words += f" on {one.day(movement.entry.occurred_at).isoformat()}"
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
