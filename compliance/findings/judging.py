"""Findings: what the rules say of a workshop's records, kept so that a reason can stand beside them.

`refresh` judges again when anything that the rules look at has changed. A finding stays for good: what no longer arises
is *met*. A decision of the owner (explained, accepted) covers a finding as it was then; a worse state opens it again,
and a pattern is looked at anew after half a year.
"""

import time as clock
from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from uuid import UUID
from zoneinfo import ZoneInfo

from django.db import transaction
from django.db.models import Prefetch, Q, QuerySet
from django.urls import reverse
from django.utils import timezone

from compliance.findings import gathering
from compliance.models import Decision, Finding, Judged
from compliance.rules.all import BY_ID, rules_of
from compliance.rules.facts import Workshop as Facts
from compliance.rules.rule import BREACH, MET, OPEN, Judgement, Rule, judge
from inventory.book.refusals import LedgerError
from inventory.models import Account
from inventory.models.access import Access
from inventory.shelf.queries import names_of
from shop.importing import jobs as importjobs
from shop.models import ImportJob, Step, User, Workshop
from shop.people.instruments import check_address
from shop.visits.log import units_of
from shop.visits.owed import Owed
from shop.visits.shown import in_own_units

NO_LONGER = "It no longer arises."
PATTERN_LASTS = timedelta(days=180)  # how long a reason covers a pattern, which goes on growing
SLOW_S, REST = 2.0, 10.0  # a judging that took longer than this rests for so many times what it took
OWED_MOST = 12
# The first page says these itself, with the act that settles them.
SAID_THERE = frozenset({"book-weighings-disagree", "book-losses-one-way", "book-instrument-check"})
SHOWN = {OPEN: "open", BREACH: "breach", MET: "met"}
GUIDE = "shown as guidance"


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


def today_of(workshop: Workshop) -> date:
    """Return the workshop's own day."""
    return timezone.now().astimezone(ZoneInfo(workshop.zone)).date()


def refresh(workshop: Workshop, *, anyway: bool = False) -> None:
    """Judge the workshop's records again if anything has changed since; `anyway` also where that was just done."""
    if _importing(workshop):
        return  # it has the book to itself, and judging half of a year would raise findings of the other half
    now, today = timezone.now(), today_of(workshop)
    judged = Judged.objects.filter(workshop=workshop).first()
    if judged and not anyway and _rests(judged, now) and not _acted_on(judged):
        return
    mark = gathering.mark_of(workshop, today)
    if judged and judged.mark == mark and not anyway:
        return
    begun = clock.monotonic()
    facts = gathering.facts_of(workshop, today)
    _keep(workshop, facts, _judgements(facts), now)
    took = {"mark": mark, "at": now, "took_s": clock.monotonic() - begun}
    Judged.objects.update_or_create(workshop=workshop, defaults=took)


def refresh_if_acted_on(workshop: Workshop) -> bool:
    """Judge again if an act may have met a finding since; return whether that was so. For pages of single records."""
    judged = Judged.objects.filter(workshop=workshop).first()
    if judged is None or not _acted_on(judged):
        return False
    refresh(workshop)
    return True


def _rests(judged: Judged, now: datetime) -> bool:
    return judged.took_s > SLOW_S and now - judged.at < timedelta(seconds=REST * judged.took_s)


def _acted_on(judged: Judged) -> bool:
    """Whether a step was written since of a visit that something was owed of: nobody is to read on that it still is."""
    steps = Step.objects.filter(visit__workshop=judged.workshop_id, recorded_at__gt=judged.at)
    abouts = [f"visit:{number}" for number in steps.values_list("visit__number", flat=True).distinct()]
    owing = Finding.objects.filter(workshop=judged.workshop_id, state__in=(OPEN, BREACH), about__in=abouts)
    return bool(abouts) and owing.exists()


def _importing(workshop: Workshop) -> bool:
    """Whether an import is at work; one whose process is gone is seen to be stopped."""
    jobs = list(ImportJob.objects.filter(workshop=workshop, state=ImportJob.AT_WORK))
    for job in jobs:
        importjobs.look(job)
    return any(job.state == ImportJob.AT_WORK for job in jobs)


def _judgements(facts: Facts) -> list[tuple[Rule, Judgement]]:
    return [(rule, one) for rule in rules_of(facts.jurisdiction) for one in judge(rule, facts)]


_Key = tuple[str, str, str]
_KEPT = ("state", "words", "way_out", "law_of", "day", "line", "person", "judged_at")


def _keep(workshop: Workshop, facts: Facts, judgements: Iterable[tuple[Rule, Judgement]], now: datetime) -> None:
    """Write what has changed: new findings, changed ones, and those that no longer arise."""
    known: dict[_Key, Finding] = {
        (one.rule, one.about, one.part): one for one in Finding.objects.filter(workshop=workshop)
    }
    new: dict[_Key, Finding] = {}
    changed: list[Finding] = []
    seen: set[_Key] = set()
    for rule, judgement in judgements:
        key = (rule.id, judgement.about, judgement.part)
        values = _values(judgement, facts.today, now)
        seen.add(key)
        if key not in known:
            new[key] = Finding(workshop=workshop, rule=rule.id, about=judgement.about, part=judgement.part, **values)
        elif _differs(known[key], values):
            changed.append(_set(known[key], values))
    in_scope = _scope(facts)
    for key, finding in known.items():
        if key not in seen and finding.state != MET and in_scope(finding):
            gone = {"state": MET, "words": f"{NO_LONGER} It was: {finding.words}", "way_out": "", "judged_at": now}
            changed.append(_set(finding, gone))
    with transaction.atomic():
        Finding.objects.bulk_create(new.values(), ignore_conflicts=True, batch_size=500)
        Finding.objects.bulk_update(changed, _KEPT, batch_size=200)


def _values(one: Judgement, today: date, now: datetime) -> dict[str, object]:
    day = one.day or today
    said = {"state": one.state, "words": one.words, "way_out": one.way_out, "line": one.line, "person": one.person}
    return {**said, "law_of": day, "day": day, "judged_at": now}


def _differs(finding: Finding, values: dict[str, object]) -> bool:
    # The day of a standing fact is today's: it alone is no change worth a write.
    return any(getattr(finding, name) != values[name] for name in ("state", "words", "way_out", "line", "person"))


def _set(finding: Finding, values: dict[str, object]) -> Finding:
    for name, value in values.items():
        setattr(finding, name, value)
    return finding


def _scope(facts: Facts) -> "_Scope":
    return _Scope(
        frozenset(f"visit:{one.number}" for one in facts.visits), facts.today - gathering.WINDOW, facts.jurisdiction
    )


@dataclass(frozen=True)
class _Scope:
    """Whether a finding's record was among what was just judged; what was not keeps its last state."""

    visits: frozenset[str]
    since: date
    jurisdiction: str

    def __call__(self, finding: Finding) -> bool:
        if finding.about.startswith("visit:"):
            return finding.about in self.visits
        if finding.about.startswith(("line:", "consignment:")):
            return finding.day > self.since
        return True


# --- reading them ---------------------------------------------------------------------------------------------


def with_decisions(rows: QuerySet[Finding]) -> QuerySet[Finding]:
    """Fetch what was decided along with findings."""
    return rows.prefetch_related(Prefetch("decisions", Decision.objects.select_related("by")))


def shown(finding: Finding, now: datetime | None = None) -> Shown:
    """Return a finding with its rule and the word for its state, from fetched rows."""
    rule = BY_ID.get(finding.rule)
    decision = covering(finding, rule, now or timezone.now())
    if decision is not None:
        return Shown(finding, rule, decision.kind, decision)
    word = GUIDE if rule and rule.guide and finding.state != MET else SHOWN[finding.state]
    return Shown(finding, rule, word, None)


def covering(finding: Finding, rule: Rule | None, now: datetime) -> Decision | None:
    """Return the decision that covers a finding as it is now, or None."""
    last = next(iter(finding.decisions.all()), None)
    if last is None or last.kind == Decision.REOPENED or finding.state == MET or last.state != finding.state:
        return None
    if rule is not None and rule.statistics and now - last.at > PATTERN_LASTS:
        return None
    return last


def owed_findings(workshop: Workshop) -> list[Shown]:
    """Return the findings that are open or breached and not decided, breaches first, newest first."""
    rows = with_decisions(Finding.objects.filter(workshop=workshop, state__in=(OPEN, BREACH))).order_by("-day", "-pk")
    found = [one for finding in rows if (one := shown(finding)).owed]
    return sorted(found, key=lambda one: one.word != BREACH)


def of_record(workshop: Workshop, *abouts: str, person: str = "") -> list[Shown]:
    """Return the findings of some records, or of a person's acts, that are not simply met, breaches first."""
    theirs = Q(about__in=abouts) | Q(person=person) if person else Q(about__in=abouts)
    rows = with_decisions(Finding.objects.filter(theirs, workshop=workshop).exclude(state=MET))
    found = [shown(finding) for finding in rows.order_by("-day", "-pk")]
    return sorted(found, key=lambda one: (not one.owed, one.word != BREACH))


def owed(workshop: Workshop, today: date) -> Sequence[Owed]:
    """Return what the first page lists of the findings: those it does not say itself, one item for each rule."""
    refresh(workshop)
    by_rule: dict[tuple[str, str], list[Shown]] = defaultdict(list)
    for one in owed_findings(workshop):
        if one.finding.rule not in SAID_THERE:
            by_rule[one.word, one.finding.rule].append(one)
    groups = list(by_rule.values())
    words = records_words(workshop, [group[0].finding.about for group in groups[:OWED_MOST]])
    listed = [_owed(workshop, group, words[group[0].finding.about]) for group in groups[:OWED_MOST]]
    if more := groups[OWED_MOST:]:
        said = f"{sum(map(len, more))} more findings are open."
        listed.append(Owed(said, reverse("findings", args=[workshop.slug]), "All findings"))
    return listed


def _owed(workshop: Workshop, group: Sequence[Shown], record: str) -> Owed:
    first = group[0]
    if len(group) == 1:
        href = reverse("finding", args=[workshop.slug, first.finding.pk])
        words = in_own_units(first.finding.words, units_of(workshop))
        return Owed(f"{first.word.capitalize()}: {record}. {words}", href, "Look at this finding")
    href = f"{reverse('findings', args=[workshop.slug])}?rule={first.finding.rule}"
    duty = first.rule.duty if first.rule else first.finding.rule
    return Owed(f"{first.word.capitalize()} in {len(group)} records, {record} first. {duty}", href, "Look at them")


# --- decisions ------------------------------------------------------------------------------------------------


def decide(finding: Finding, kind: str, reason: str, *, by: User, key: UUID) -> Decision:
    """Write what the owner says of a finding; the same key writes once. Raises DecisionRefused."""
    with transaction.atomic():
        known = Decision.objects.filter(request_key=key).first()
        if known is not None:
            return known
        now = Finding.objects.select_for_update().get(pk=finding.pk)
        if now.state == MET:
            raise DecisionRefused("This finding is met meanwhile; there is nothing to decide.")
        if not reason.strip():
            raise DecisionRefused("Say why: the reason stays with the finding.")
        return Decision.objects.create(
            finding=now, kind=kind, reason=reason.strip(), by=by, at=timezone.now(), state=now.state, request_key=key
        )


# --- words and addresses of records ---------------------------------------------------------------------------

_PAGES = {
    "visit": "visit",
    "cylinder": "cylinder",
    "vehicle": "vehicle",
    "partner": "partner",
    "line": "entry",
    "consignment": "entry",
    "person": "person",
}


def record_words(workshop: Workshop, about: str) -> str:
    """Return a record in words: "visit 12", "cylinder C-34", "line 214", a person's name, "the book"."""
    return records_words(workshop, [about])[about]


def records_words(workshop: Workshop, abouts: Iterable[str]) -> dict[str, str]:
    """Return many records in words, with two queries however many they are."""
    wanted = {about: about.partition(":")[::2] for about in abouts}
    numbers = {int(rest) for kind, rest in wanted.values() if kind in _BY_LABEL and rest.isdigit()}
    handles = {rest for kind, rest in wanted.values() if kind == "person"}
    rows = Account.objects.filter(book=workshop.book_id, number__in=numbers) if numbers else ()
    labels = {str(one.number): one.label for one in rows}
    names = names_of(handles) if handles else {}
    return {about: _words(kind, rest, labels, names) for about, (kind, rest) in wanted.items()}


_BY_LABEL = ("cylinder", "vehicle", "partner")


def _words(kind: str, rest: str, labels: Mapping[str, str], names: Mapping[str, str]) -> str:
    if kind in _BY_LABEL:
        return f"{kind} {labels.get(rest) or rest}"
    if kind == "person":
        return names.get(rest, rest)
    if kind == "consignment":
        return f"consignment, line {rest}"
    return f"{kind} {rest}" if rest else f"the {kind or 'book'}"


def record_address(access: Access, about: str) -> str:
    """Return the address of a finding's record; of the whole book, its lines; of an instrument, its check."""
    kind, _, rest = about.partition(":")
    if kind in _PAGES and rest:
        return reverse(_PAGES[kind], args=[access.slug, rest])
    return check_address(access, rest) if kind == "instrument" else reverse("entries", args=[access.slug])
