"""What became of a finding: the word for its state, what the owner decided, with the reason, and the record in words.

A decision (explained, accepted) covers a finding as it was then; a worse state opens it again, and a pattern is looked
at anew after half a year.
"""

from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime, timedelta
from uuid import UUID, uuid5

from django.db import connection, transaction
from django.db.models import F, OuterRef, Prefetch, Q, QuerySet, Subquery

from compliance.models import Decision, Finding
from compliance.rules.all import BY_ID
from compliance.rules.rule import BREACH, MET, OPEN, Rule
from inventory.book import clock
from inventory.book.refusals import LedgerError
from inventory.models import Account
from inventory.shelf.listing import names_of
from shop.models import User, Workshop

PATTERN_LASTS = timedelta(days=180)  # how long a reason covers a pattern, which goes on growing
GUIDE = "shown as guidance"
_GUIDES = frozenset(rule.id for rule in BY_ID.values() if rule.guide)
_PATTERNS = frozenset(rule.id for rule in BY_ID.values() if rule.statistics)
_TABLE, _DECIDED = Finding._meta.db_table, Decision._meta.db_table
MOST_COUNTED = 1_000  # of a kind, on the first page
_BY_LABEL = ("cylinder", "vehicle", "partner")


class DecisionRefused(LedgerError):
    """A decision that cannot stand; the text is a sentence."""


@dataclass(frozen=True)
class Shown:
    """A finding as pages show it: its rule, the word for its state, the decision that covers it."""

    finding: Finding
    rule: Rule | None
    word: str
    decision: Decision | None

    @property
    def owed(self) -> bool:
        """Whether somebody has still to do something."""
        return self.word in (OPEN, BREACH)


def with_decisions(rows: QuerySet[Finding]) -> QuerySet[Finding]:
    """Fetch what was decided along with findings."""
    return rows.prefetch_related(Prefetch("decisions", Decision.objects.select_related("by")))


def shown(finding: Finding, now: datetime | None = None) -> Shown:
    """Return a finding with its rule and the word for its state, from fetched rows."""
    rule = BY_ID.get(finding.rule)
    decision = covering(finding, rule, now or clock.now())
    if decision is not None:
        return Shown(finding, rule, decision.kind, decision)
    word = GUIDE if rule and rule.guide and finding.state != MET else finding.state
    return Shown(finding, rule, word, None)


def covering(finding: Finding, rule: Rule | None, now: datetime) -> Decision | None:
    """Return the decision that covers a finding as it is now, or None."""
    last = next(iter(finding.decisions.all()), None)
    if last is None or last.kind == Decision.REOPENED or finding.state == MET or last.state != finding.state:
        return None
    if rule is not None and rule.statistics and now - last.at > PATTERN_LASTS:
        return None
    return last


@dataclass(frozen=True)
class OwedRule:
    """The findings of one rule and state that are owed: how many, and the newest of them."""

    first: Finding
    rule: Rule | None
    count: int

    @property
    def word(self) -> str:
        """The word for their state."""
        return self.first.state

    @property
    def counted(self) -> str:
        """How many they are, as far as they were counted."""
        return f"more than {MOST_COUNTED:,}" if self.count > MOST_COUNTED else str(self.count)


def owed_findings(workshop: Workshop) -> QuerySet[Finding]:
    """Return the findings that are open or breached and not decided; the database alone looks at what was decided."""
    last = Decision.objects.filter(finding=OuterRef("pk")).order_by("-at", "-pk")
    owed = Finding.objects.filter(workshop=workshop, state__in=(OPEN, BREACH)).exclude(rule__in=_GUIDES)
    lasting = Q(decided_at__gte=clock.now() - PATTERN_LASTS) | ~Q(rule__in=_PATTERNS)
    covered = (
        owed.filter(pk__in=Decision.objects.filter(finding__workshop=workshop).values("finding"))
        .annotate(decided=Subquery(last.values("kind")[:1]), decided_at=Subquery(last.values("at")[:1]))
        .annotate(decided_as=Subquery(last.values("state")[:1]))
        .filter(lasting, decided_as=F("state"))
        .exclude(decided=Decision.REOPENED)
    )
    return owed.exclude(pk__in=covered.values("pk"))


# The kinds that there are by leaps through an index, and of each no more rows than are counted: not one row for each
# that is owed. In SQL, since the ORM knows no such leap. What was decided is little: it is looked at first.
_KINDS = f"""
    WITH RECURSIVE covered(id) AS (
        SELECT f.id FROM {_DECIDED} d CROSS JOIN {_TABLE} f
        WHERE f.id = d.finding_id AND f.workshop_id = %s AND d.state = f.state AND d.kind <> '{Decision.REOPENED}'
            AND (d.at >= %s OR f.rule NOT IN ('{"', '".join(sorted(_PATTERNS))}'))
            AND NOT EXISTS (SELECT 1 FROM {_DECIDED} later WHERE later.finding_id = d.finding_id
                AND (later.at > d.at OR (later.at = d.at AND later.id > d.id)))),
    kinds(state, rule) AS (
        SELECT states.state, (SELECT MIN(rule) FROM {_TABLE} WHERE workshop_id = %s AND state = states.state)
        FROM (SELECT '{OPEN}' AS state UNION ALL SELECT '{BREACH}') states
        UNION ALL
        SELECT state, (SELECT MIN(next.rule) FROM {_TABLE} next
            WHERE next.workshop_id = %s AND next.state = kinds.state AND next.rule > kinds.rule)
        FROM kinds WHERE rule IS NOT NULL)
    SELECT rule,
        (SELECT COUNT(*) FROM (SELECT 1 FROM {_TABLE} WHERE workshop_id = %s AND state = kinds.state
            AND rule = kinds.rule AND id NOT IN (SELECT id FROM covered) LIMIT {MOST_COUNTED + 1}) counted),
        (SELECT id FROM {_TABLE} WHERE workshop_id = %s AND state = kinds.state
            AND rule = kinds.rule AND id NOT IN (SELECT id FROM covered) ORDER BY day DESC, id DESC LIMIT 1)
    FROM kinds WHERE rule IS NOT NULL
"""  # noqa: S608 - our names


def owed_by_rule(workshop: Workshop, *, leave_out: Collection[str] = ()) -> list[OwedRule]:
    """Return what is owed by rule, breaches first, then by the newest of each.

    Two queries, whose cost does not grow with what is owed: what is more than `MOST_COUNTED` is not counted further.
    """
    kinds = [row for row in _kinds(workshop) if row[1] and row[0] not in {*leave_out, *_GUIDES}]
    first = Finding.objects.in_bulk([newest for _, _, newest in kinds])
    found = [OwedRule(first[newest], BY_ID.get(rule), count) for rule, count, newest in kinds]
    found.sort(key=lambda one: (one.first.day, one.first.pk), reverse=True)
    return sorted(found, key=lambda one: one.word != BREACH)


def _kinds(workshop: Workshop) -> list[tuple[str, int, int]]:
    """Return each rule that has something open or breached: how many are owed, and the key of the newest, if any is."""
    lasting = connection.ops.adapt_datetimefield_value(clock.now() - PATTERN_LASTS)
    with connection.cursor() as cursor:
        cursor.execute(_KINDS, [workshop.pk, lasting, *[workshop.pk] * 4])
        return list(cursor.fetchall())


def of_record(workshop: Workshop, *abouts: str, person: str = "") -> list[Shown]:
    """Return the findings of some records, or of a person's acts, that are not simply met, breaches first."""
    theirs = Q(about__in=abouts) | Q(person=person) if person else Q(about__in=abouts)
    rows = with_decisions(Finding.objects.filter(theirs, workshop=workshop).exclude(state=MET))
    found = [shown(finding) for finding in rows.order_by("-day", "-pk")]
    return sorted(found, key=lambda one: (not one.owed, one.word != BREACH))


def decide(finding: Finding, kind: str, reason: str, *, by: User, key: UUID) -> Decision:
    """Write what the owner says of a finding; the same key writes once. Raises DecisionRefused."""
    with transaction.atomic():
        known = Decision.objects.filter(request_key=key).first()
        if known is not None:
            return known
        return _write(Finding.objects.select_for_update().get(pk=finding.pk), kind, reason, by, key)


def decide_many(
    workshop: Workshop, pks: Collection[int], kind: str, reason: str, *, by: User, key: UUID
) -> tuple[Decision, ...]:
    """Write what the owner says of several findings, of all or of none, each with a record of its own.

    The same key writes once. Raises DecisionRefused.
    """
    keys = {pk: uuid5(key, str(pk)) for pk in sorted(pks)}
    with transaction.atomic():
        known = Decision.objects.filter(request_key__in=keys.values())
        if known:
            return tuple(known)
        rows = Finding.objects.select_for_update().filter(workshop=workshop, pk__in=keys).order_by("pk")
        if len(rows) < len(keys):
            raise DecisionRefused("Some of these are no findings of this workshop.")
        if met := sum(one.state == MET for one in rows):
            raise DecisionRefused(f"{met} of these are met meanwhile: look at the list again, and tick the others.")
        return tuple(_write(one, kind, reason, by, keys[one.pk]) for one in rows)


def _write(finding: Finding, kind: str, reason: str, by: User, key: UUID) -> Decision:
    if finding.state == MET:
        raise DecisionRefused("This finding is met meanwhile; there is nothing to decide.")
    if not reason.strip():
        raise DecisionRefused("Say why: the reason stays with the finding.")
    said = {"kind": kind, "reason": reason.strip(), "state": finding.state}
    return Decision.objects.create(finding=finding, by=by, at=clock.now(), request_key=key, **said)


def records_words(workshop: Workshop, abouts: Iterable[str]) -> dict[str, str]:
    """Return records in words, with two queries however many they are.

    Such as "visit 12", "cylinder C-34", "line 214", a person's name, "the book".
    """
    wanted = {about: about.partition(":")[::2] for about in abouts}
    numbers = {int(rest) for kind, rest in wanted.values() if kind in _BY_LABEL and rest.isdigit()}
    handles = {rest for kind, rest in wanted.values() if kind == "person"}
    rows = Account.objects.filter(book=workshop.book_id, number__in=numbers) if numbers else ()
    labels = {str(one.number): one.label for one in rows}
    names = names_of(handles) if handles else {}
    return {about: _words(kind, rest, labels, names) for about, (kind, rest) in wanted.items()}


def _words(kind: str, rest: str, labels: Mapping[str, str], names: Mapping[str, str]) -> str:
    if kind in _BY_LABEL:
        return f"{kind} {labels.get(rest) or rest}"
    if kind == "person":
        return names.get(rest, rest)
    if kind == "consignment":
        return f"consignment, line {rest}"
    return f"{kind} {rest}" if rest else f"the {kind or 'book'}"
