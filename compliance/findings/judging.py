"""Findings: what the rules say of a workshop's records, kept so that a reason can stand beside them.

`refresh` judges again when anything that the rules look at has changed. A finding stays for good: what no longer arises
is *met*.
"""

import time
from collections.abc import Collection, Iterable
from datetime import date, datetime, timedelta
from zoneinfo import ZoneInfo

from django.db import transaction

from compliance.findings import gathering
from compliance.models import Finding, Judged
from compliance.rules.all import rules_of
from compliance.rules.facts import Workshop as Facts
from compliance.rules.rule import BREACH, MET, OPEN, Judgement, Rule, judge
from inventory.book import clock
from shop.importing import jobs as importjobs
from shop.models import ImportJob, Step, Workshop

NO_LONGER = "It no longer arises."
SLOW_S, REST = 2.0, 10.0  # a judging that took longer than this rests for so many times what it took


def today_of(workshop: Workshop) -> date:
    """Return the workshop's own day."""
    return clock.now().astimezone(ZoneInfo(workshop.zone)).date()


def refresh(workshop: Workshop, *, anyway: bool = False) -> None:
    """Judge the workshop's records again if anything has changed since; `anyway` also where that was just done."""
    if _importing(workshop):
        return  # it has the book to itself, and judging half of a year would raise findings of the other half
    now, today = clock.now(), today_of(workshop)
    judged = Judged.objects.filter(workshop=workshop).first()
    same_rules = judged is not None and judged.jurisdiction == workshop.jurisdiction
    if judged and same_rules and not anyway and _rests(judged, now) and not _acted_on(judged):
        return
    mark = gathering.mark_of(workshop, today)
    if judged and judged.mark == mark and not anyway:
        return
    begun = time.monotonic()
    facts = gathering.facts_of(workshop, today)
    judgements = [(rule, one) for rule in rules_of(facts.jurisdiction) for one in judge(rule, facts)]
    _keep(workshop, facts, judgements, now)
    took_s = time.monotonic() - begun
    kept = {"mark": mark, "at": now, "took_s": took_s, "jurisdiction": workshop.jurisdiction}
    Judged.objects.update_or_create(workshop=workshop, defaults=kept)


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


_Key = tuple[str, str, str]
_SAID = ("state", "words", "way_out", "line", "person")  # of a judgement, and as it is kept


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
    visits = {f"visit:{one.number}" for one in facts.visits}
    for key, finding in known.items():
        if key not in seen and finding.state != MET and _was_judged(finding, visits, facts.today):
            gone = {"state": MET, "words": f"{NO_LONGER} It was: {finding.words}", "way_out": "", "judged_at": now}
            changed.append(_set(finding, gone))
    with transaction.atomic():
        Finding.objects.bulk_create(new.values(), ignore_conflicts=True, batch_size=500)
        Finding.objects.bulk_update(changed, (*_SAID, "law_of", "day", "judged_at"), batch_size=200)


def _values(one: Judgement, today: date, now: datetime) -> dict[str, object]:
    day = one.day or today
    return {**{name: getattr(one, name) for name in _SAID}, "law_of": day, "day": day, "judged_at": now}


def _differs(finding: Finding, values: dict[str, object]) -> bool:
    # The day of a standing fact is today's: it alone is no change worth a write.
    return any(getattr(finding, name) != values[name] for name in _SAID)


def _set(finding: Finding, values: dict[str, object]) -> Finding:
    for name, value in values.items():
        setattr(finding, name, value)
    return finding


def _was_judged(finding: Finding, visits: Collection[str], today: date) -> bool:
    """Whether a finding's record was among what was just judged; what was not keeps its last state."""
    if finding.about.startswith("visit:"):
        return finding.about in visits
    return not finding.about.startswith(("line:", "consignment:")) or finding.day > today - gathering.WINDOW
