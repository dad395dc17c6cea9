"""From the book to the readings that stock rests on: the last of each cylinder up to a day, and what moved since.

Each cylinder is sought by its own index, from the newest line of the day downwards, so it costs what cylinders there
are and not how many lines the book has.
"""

from collections import defaultdict
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta
from math import sqrt
from typing import Any

from django.db import connection
from django.db.models import Case, Count, IntegerField, Max, Q, Value, When
from django.db.models import Sum as Added

from compliance.statement.balance import BEFORE, ENTERED, PERIOD, UNEXPLAINED, Sum, column
from compliance.statement.period import Period
from compliance.statement.stock import SINGLE, Leg, Passages, Standing
from inventory import causes
from inventory.book import weighing
from inventory.measure import uncertainty
from inventory.models import Cylinder, Entry, Movement, Scale

LATE = timedelta(days=31)
"""How long before a day a line may count that was written after it, and still be looked for as a cylinder's last."""

# The newest movement and the newest reading of a book up to a line: what is sought by account goes no further.
_UP_TO = """
SELECT (SELECT MAX(m.id) FROM inventory_movement m WHERE m.entry_id = (
    SELECT e.id FROM inventory_entry e WHERE e.book_id = %(book)s AND e.seq <= %(seq)s
    AND EXISTS (SELECT 1 FROM inventory_movement x WHERE x.entry_id = e.id) ORDER BY e.seq DESC LIMIT 1)),
  (SELECT MAX(w.id) FROM inventory_weighing w WHERE w.entry_id = (
    SELECT e.id FROM inventory_entry e WHERE e.book_id = %(book)s AND e.seq <= %(seq)s
    AND EXISTS (SELECT 1 FROM inventory_weighing x WHERE x.entry_id = e.id) ORDER BY e.seq DESC LIMIT 1))
"""

# The last reading of each cylinder that counts, what is in it, its empty mass, and the movement before its entry.
_READINGS = """
WITH last AS (
  SELECT a.id AS account, (
    SELECT w.id FROM inventory_weighing w JOIN inventory_entry e ON e.id = w.entry_id
    WHERE w.account_id = a.id AND w.id <= %(weighing)s AND {counts_e} AND NOT EXISTS (
      SELECT 1 FROM inventory_entry r WHERE r.reverses_id = e.id AND r.seq <= %(seq)s AND {counts_r})
    ORDER BY w.id DESC LIMIT 1) AS weighing
  FROM inventory_account a WHERE a.book_id = %(book)s AND a.kind = 'cylinder')
SELECT last.account, w.id, w.entry_id, w.role, w.gross_mg, w.tare_mg, w.u_mg, w.step_mg, w.scale_id,
  (SELECT m.refrigerant || ' ' || m.grade FROM inventory_movement m JOIN inventory_entry e ON e.id = m.entry_id
   WHERE m.target_id = last.account AND m.id <= %(movement)s AND m.mass_mg > 0 AND {counts_e} AND NOT EXISTS (
     SELECT 1 FROM inventory_entry r WHERE r.reverses_id = e.id AND r.seq <= %(seq)s AND {counts_r})
   ORDER BY m.id DESC LIMIT 1),
  (SELECT MAX(m.id) FROM inventory_movement m WHERE m.entry_id = (
     SELECT b.id FROM inventory_entry b WHERE b.book_id = %(book)s AND b.seq < of.seq
     AND EXISTS (SELECT 1 FROM inventory_movement x WHERE x.entry_id = b.id) ORDER BY b.seq DESC LIMIT 1)),
  COALESCE(t.u_mg, c.tare_u_mg), COALESCE(t.source, c.tare_source)
FROM last JOIN inventory_weighing w ON w.id = last.weighing JOIN inventory_entry of ON of.id = w.entry_id
JOIN inventory_cylinder c ON c.account_id = last.account
LEFT JOIN inventory_tare t ON t.id = (
  SELECT MAX(x.id) FROM inventory_tare x WHERE x.cylinder_id = c.id AND x.tare_mg = w.tare_mg)
"""

# What moved since, alike movements added up; those between cylinders one by one, since two cylinders share each. What
# was reversed takes its own squares off again.
_LEGS = " UNION ALL ".join(
    f"""
SELECT held.account, m.entry_id = held.entry, m.cause, m.basis, m.scale_id, {ends},
  m.booked_on > %(first)s OR (m.booked_on = %(first)s AND m.cause <> 'opening-stock'),
  CASE WHEN o.kind IN ('cylinder', 'rig') THEN m.id ELSE 0 END, {sign} * SUM(m.mass_mg),
  SUM(CASE WHEN m.reversal AND (SELECT u.reverses_id FROM inventory_entry u WHERE u.id = m.entry_id) > held.entry
    THEN -1.0 ELSE 1.0 END * m.u_random_mg * m.u_random_mg),
  {sign} * SUM(CASE WHEN m.reversal THEN -m.u_span_mg ELSE m.u_span_mg END), {sign}
FROM held CROSS JOIN inventory_movement m JOIN inventory_account o ON o.id = m.{other}_id
WHERE m.{end}_id = held.account AND m.id > held.low AND m.id <= %(movement)s AND {{counts_m}}
GROUP BY 1, 2, 3, 4, 5, 6, 7, 8, 9
"""  # noqa: S608 - our names
    for end, other, sign, ends in (
        ("target", "source", "1", "o.kind, 'cylinder'"),
        ("source", "target", "-1", "'cylinder', o.kind"),
    )
)


@dataclass(frozen=True)
class Stood:
    """The cylinders that were weighed, by the last day before a period and by its own last, and what passed whole."""

    opening: Sequence[Standing]
    closing: Sequence[Standing]
    passages: Sequence[Passages]


def stood(period: Period, found: Sequence[Sum]) -> Stood:
    """Return what the stock at both ends of a period rests on; `found` as `sums.summed` returns it."""
    scales = {one.pk: one for one in Scale.objects.filter(book=period.book)}
    opening: list[Standing] = []
    if any(each.phase in (BEFORE, ENTERED) for each in found):
        entered = _entered(period, found)
        opening = _standing(period, period.first - timedelta(days=1), scales, entered)
    return Stood(opening, _standing(period, period.last, scales), _passages(period, found))


def _entered(period: Period, found: Sequence[Sum]) -> list[int]:
    """Return the lines that entered opening stock on the first day, which counts into the opening."""
    chosen = Q(pk=None)
    for each in found:
        if each.phase == ENTERED:
            chosen |= Q(refrigerant=each.refrigerant, grade=each.grade)
    if chosen == Q(pk=None):
        return []
    rows = Movement.objects.filter(chosen, book=period.book, cause="opening-stock", booked_on=period.first)
    return sorted(set(rows.filter(entry__seq__lte=period.head.seq).values_list("entry_id", flat=True)))


def _standing(period: Period, day: date, scales: Mapping[int, Scale], entered: Sequence[int] = ()) -> list[Standing]:
    seq = _newest(period, day, entered)
    if seq is None:
        return []
    adapted = connection.ops.adapt_datefield_value
    asked: dict[str, Any] = {
        "book": period.book.pk, "seq": seq, "day": adapted(day), "first": adapted(period.first),
    }  # fmt: skip
    with connection.cursor() as cursor:
        cursor.execute(_UP_TO, asked)
        asked["movement"], asked["weighing"] = (one or 0 for one in cursor.fetchone())
        cursor.execute(_counting(_READINGS, entered), asked)
        rows = [row for row in cursor.fetchall() if row[9]]
        if not rows:
            return []
        held = ", ".join(f"({int(row[0])}, {int(row[10] or 0)}, {int(row[2])})" for row in rows)
        cursor.execute(f"WITH held (account, low, entry) AS (VALUES {held}) {_counting(_LEGS, entered)}", asked)
        legs: dict[int, list[Leg]] = defaultdict(list)
        for account, *leg in cursor.fetchall():
            legs[account].append(_leg(*leg))
    return [_of_row(row, scales, legs[row[0]]) for row in rows]


def _newest(period: Period, day: date, entered: Sequence[int]) -> int | None:
    """Return the number of the newest line that may count up to a day."""
    lines = Entry.objects.filter(book=period.book, seq__lte=period.head.seq)
    recent = lines.filter(Q(booked_on__range=(day - LATE, day)) | Q(pk__in=entered))
    newest = recent.aggregate(newest=Max("pk"))["newest"]
    if newest is None:
        rows = lines.filter(booked_on__lte=day).order_by("-booked_on", "-pk")
        return rows.values_list("seq", flat=True).first()
    return int(Entry.objects.values_list("seq", flat=True).get(pk=newest))


def _counting(statement: str, entered: Sequence[int]) -> str:
    """Return a statement with what counts up to the day: by its day, or as opening stock of the day after."""
    also = f" OR {{0}} IN ({', '.join(map(str, entered))})" if entered else ""
    keys = {"e": "e.id", "r": "r.id", "m": "m.entry_id"}
    counts = {name: f"({name}.booked_on <= %(day)s{also.format(key)})" for name, key in keys.items()}
    return statement.format(**{f"counts_{name}": words for name, words in counts.items()})


def _leg(
    own: int, cause: str, basis: str, scale: int | None, source: str, target: str, within: int, movement: int,
    mass_mg: int, squares: float, span: int, sign: int,
) -> Leg:  # fmt: skip
    flow = column(cause, source, target) not in (None, UNEXPLAINED)
    random_mg = sign * sqrt(max(float(squares), 0.0))
    return Leg(movement, bool(own), cause, basis, int(mass_mg), random_mg, float(span), scale, flow, bool(within))


def _of_row(row: Sequence[Any], scales: Mapping[int, Scale], legs: Sequence[Leg]) -> Standing:
    account, pk, entry, role, gross_mg, tare_mg, u_mg, step_mg, scale, gas, _, tare_u_mg, source = row
    refrigerant, grade = gas.split(" ")
    return Standing(
        account=account,
        refrigerant=refrigerant,
        grade=grade,
        weighing=pk,
        entry=entry,
        role=role,
        net_mg=gross_mg - tare_mg,
        reading_u_mg=float(u_mg),
        step_u_mg=min(uncertainty.resolution(step_mg), float(u_mg)),
        span_u_mg=_span_u_mg(scales[scale], gross_mg),
        tare_mg=tare_mg,
        tare_u_mg=float(tare_u_mg),
        scale=scale,
        by_paper=source == Cylinder.RECKONED,
        own=tuple(leg for leg in legs if leg.own),
        since=tuple(leg for leg in legs if not leg.own),
    )


def _span_u_mg(scale: Scale, gross_mg: int) -> float:
    known = weighing.of_scale(scale)
    try:
        return known.span_u_g(gross_mg / 1000) * 1000
    except ValueError:  # its class was entered since, and ends below this load: what is stated of its span counts
        return replace(known, accuracy_class=None).span_u_g(gross_mg / 1000) * 1000


def _passages(period: Period, found: Sequence[Sum]) -> list[Passages]:
    """Return the cylinders whose content came in or went out whole, by one weighing, in the period."""
    chosen = Q(pk=None)
    for each in found:
        if each.phase == PERIOD and each.basis == SINGLE and _is_flow(each):
            chosen |= Q(refrigerant=each.refrigerant, grade=each.grade, cause=each.cause)
    if chosen == Q(pk=None):
        return []
    entered = Q(cause="opening-stock", booked_on=period.first)  # it counts into the opening
    lines = period.movements.filter(chosen, basis=SINGLE).exclude(entered).order_by()
    signed: Callable[[int], Case] = lambda sign: Case(  # noqa: E731
        When(reversal=True, then=Value(-sign)), default=Value(sign), output_field=IntegerField()
    )
    counts: dict[tuple[int, str], list[int]] = defaultdict(lambda: [0, 0])
    for end, sign in (("target", 1), ("source", -1)):
        ends = lines.filter(**{f"{end}__kind": causes.CYLINDER}).values_list(f"{end}_id", "refrigerant")
        for account, code, net, count in ends.annotate(net=Added(signed(sign)), count=Count("pk")):
            for place, more in enumerate((net, count)):
                counts[account, code][place] += more
    tares = Cylinder.objects.filter(account__in={account for account, _ in counts})
    known = {one.account_id: one for one in tares.only("account", "tare_mg", "tare_u_mg", "tare_source")}
    return [
        Passages(account, code, net, count, one.tare_mg, float(one.tare_u_mg), one.tare_source == Cylinder.RECKONED)
        for (account, code), (net, count) in counts.items()
        if (one := known.get(account)) is not None
    ]


def _is_flow(each: Sum) -> bool:
    return column(each.cause, each.source, each.target) not in (None, UNEXPLAINED)
