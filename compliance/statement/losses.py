"""What of a statement's stock went to air or is unexplained, by cylinder and by who wrote the line.

The same sums in the same columns, grouped once more. A line stands under whoever found the difference: that says
nothing of who caused it. A reversal stands where the line that it reverses stood, and what was explained since where
the difference stood, so that all rows together are the statement's columns.
"""

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from django.db.models import Max, Q, QuerySet
from django.db.models.functions import Coalesce

from compliance.statement import sums
from compliance.statement.balance import AIR, EXPLANATIONS, UNEXPLAINED, Flow, Sum, column, flow
from compliance.statement.period import Period
from inventory import causes
from inventory.measure import uncertainty
from inventory.models import Account, Movement

NOBODY = ""  # an explanation that names no difference belongs to no cylinder and to nobody


@dataclass(frozen=True)
class Loss:
    """What one cylinder, or lines of one hand, lost; masses that went missing are above zero.

    `unexplained` is net; `explained_mg` of it was explained since. `can_tell_mg` is the largest difference that the two
    readings of one of its lines could not have told.
    """

    key: str  # the number of the cylinder's account, or a handle
    name: str
    unexplained: Flow
    air: Flow
    explained_mg: int
    can_tell_mg: int

    @property
    def open_mg(self) -> int:
        """What of the unexplained is still open."""
        return self.unexplained.mass_mg - self.explained_mg

    @property
    def give_or_take_mg(self) -> int | None:
        """Twice the standard uncertainty of the unexplained; None where none was given."""
        u_mg = self.unexplained.u_mg
        return None if u_mg is None else round(uncertainty.give_or_take(u_mg))

    @property
    def is_within(self) -> bool:
        """Whether what is open is no more than the scales can tell at all."""
        return abs(self.open_mg) <= max(self.give_or_take_mg or 0, self.can_tell_mg)


def by_cylinder(period: Period) -> tuple[Loss, ...]:
    """Return the losses of each cylinder or rig, the most that is open first; three queries."""
    rows = _rows(period, "source_id", "target_id")
    parts: dict[str, list[Sum]] = defaultdict(list)
    can_tell: dict[str, int] = defaultdict(int)
    for each, more in rows:
        at_source = each.source in causes.STOCK_KINDS
        key = str(more["source_id"] if at_source else more["target_id"])
        parts[key].append(each)
        can_tell[key] = max(can_tell[key], more["can_tell"])
    ends = _explanations(period).values_list(
        "explains__source_id", "explains__target_id", "explains__source__kind", "source__kind", "mass_mg"
    )
    explained: dict[str, int] = defaultdict(int)
    for source, target, kind, from_kind, mass_mg in ends:
        key = str((target if kind == causes.UNEXPLAINED else source) or NOBODY)
        explained[key] += _explained_mg(from_kind, mass_mg)
    accounts = Account.objects.in_bulk([int(key) for key in {*parts, *explained} if key])
    names = {str(pk): (str(one.number), str(one)) for pk, one in accounts.items()}
    found = _losses(parts, can_tell, explained, names)
    return tuple(sorted(found, key=lambda one: (-abs(one.open_mg), -one.air.mass_mg, one.key)))


def by_person(period: Period, names: Mapping[str, str]) -> tuple[Loss, ...]:
    """Return the losses by the handle of who wrote the lines, in the order of their `names`; two queries."""
    parts: dict[str, list[Sum]] = defaultdict(list)
    can_tell: dict[str, int] = defaultdict(int)
    for each, more in _rows(period, "hand", hand=Coalesce("entry__reverses__actor", "entry__actor")):
        parts[more["hand"]].append(each)
        can_tell[more["hand"]] = max(can_tell[more["hand"]], more["can_tell"])
    explained: dict[str, int] = defaultdict(int)
    for hand, kind, mass_mg in _explanations(period).values_list("explains__entry__actor", "source__kind", "mass_mg"):
        explained[hand or NOBODY] += _explained_mg(kind, mass_mg)
    told = {handle: (handle, names.get(handle, handle)) for handle in {*parts, *explained}}
    found = _losses(parts, can_tell, explained, told)
    return tuple(sorted(found, key=lambda one: (one.name, one.key)))


def _rows(period: Period, *more: str, **annotated: Any) -> list[tuple[Sum, dict[str, Any]]]:
    """Return the lines between stock and air or the unexplained, grouped with what one of them could tell."""
    stock = causes.STOCK_KINDS
    out = Q(source__kind__in=stock, target__kind__in=(causes.AIR, causes.UNEXPLAINED))
    back = Q(source__kind__in=(causes.AIR, causes.UNEXPLAINED), target__kind__in=stock)
    lines = period.movements.filter(out | back).annotate(**annotated)
    return sums.measured(lines, period.first, *more, can_tell=Max("can_tell_mg"))


def _explanations(period: Period) -> QuerySet[Movement]:
    return period.movements.filter(cause__in=sorted(EXPLANATIONS))


def _explained_mg(source: str, mass_mg: int) -> int:
    return mass_mg if source == causes.UNEXPLAINED else -mass_mg


def _losses(
    parts: Mapping[str, Sequence[Sum]],
    can_tell: Mapping[str, int],
    explained: Mapping[str, int],
    names: Mapping[str, tuple[str, str]],
) -> Iterable[Loss]:
    for key in {*parts, *explained}:
        number, name = names.get(key, (NOBODY, NOBODY))
        columns = {
            at: [each for each in parts.get(key, ()) if column(each.cause, each.source, each.target) == at]
            for at in (UNEXPLAINED, AIR)
        }
        yield Loss(
            key=number,
            name=name,
            unexplained=flow(UNEXPLAINED, columns[UNEXPLAINED]),
            air=flow(AIR, columns[AIR]),
            explained_mg=explained.get(key, 0),
            can_tell_mg=can_tell.get(key, 0),
        )
