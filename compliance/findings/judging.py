"""Findings: what the rules say of a workshop's records, kept so that a reason can stand beside them.

Most rules look at the visits of one vehicle at a time (`by_vehicle`): these are judged where a change is, before the
next page is shown. Others look at the whole book, such as patterns of a year: of a small book they are judged at once
too, of a large one by a process of its own, which the page does not wait for. What is to be judged stands in the
database (`changes`), so that nothing rests on what a process remembers.
"""

import os
import subprocess
import sys
import time
from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta
from zoneinfo import ZoneInfo

from django.conf import settings
from django.db.models import Q

from compliance.findings import changes, gathering, noticing, visits
from compliance.findings.changes import Change, parts
from compliance.findings.keeping import keep
from compliance.models import Finding, Judged, Noticed
from compliance.rules.all import BY_ID, rules_of
from compliance.rules.rule import judge
from inventory.book import clock
from shop.importing import jobs as importjobs
from shop.models import ImportJob, Workshop

SMALL = 1_000  # visits and lines: so many are judged while a page waits
READ_AT_ONCE = 4  # visits that a page waits for in a large book
REST = 10.0  # a judging of a large book rests for so many times what it took
SILENT = timedelta(minutes=10)  # a process that has not said for so long that it is at it is gone
OF_BOOK = frozenset(rule.id for rule in BY_ID.values() if not rule.by_vehicle)


def today_of(workshop: Workshop) -> date:
    """Return the workshop's own day."""
    return clock.now().astimezone(ZoneInfo(workshop.zone)).date()


@dataclass(frozen=True)
class Looked:
    """What a look at a workshop's findings did: whether anything had changed, and whether some is judged later."""

    changed: bool
    behind: bool


def look(workshop: Workshop) -> Looked:
    """Judge what has changed, as far as a page may wait for it; the rest of a large book is left to a process."""
    judged = _judged(workshop)
    change = changes.since(workshop, judged.seq)
    if (_stands(judged, workshop) and not change) or _importing(workshop):
        return Looked(False, False)
    if _is_small(judged, change):
        refresh(workshop)
        return Looked(True, False)
    if judged.code == changes.code() and not change.of_all:
        _judge_alone(workshop, judged)
    _set_going(workshop, judged)
    return Looked(True, True)


def again(workshop: Workshop) -> Looked:
    """Judge all records again, whether anything has changed or not."""
    Noticed.objects.create(book=workshop.book_id, kind=noticing.WORKSHOP, record=0)
    return look(workshop)


def refresh(workshop: Workshop, *, anyway: bool = False) -> None:
    """Judge the workshop's records again now if anything has changed since; `anyway` all of them."""
    if _importing(workshop):
        return  # it has the book to itself, and judging half of a year would raise findings of the other half
    judged = _judged(workshop)
    change = changes.since(workshop, judged.seq)
    stands = _stands(judged, workshop) and not anyway
    if stands and not change:
        return
    begun, now, today = time.monotonic(), clock.now(), today_of(workshop)
    for _ in visits.bring_up(workshop, gathering.since(workshop, today), change):
        _still_at_it(judged)
    for some in parts(
        change.vehicles if stands and not change.of_all else visits.vehicles(workshop, gathering.since(workshop, today))
    ):
        _judge_vehicles(workshop, some, today, now)
        _still_at_it(judged)
    size = _judge_book(workshop, today, now)
    for some in parts(change.noticed):
        Noticed.objects.filter(pk__in=some).delete()
    Judged.objects.filter(pk=judged.pk).update(
        code=changes.code(),
        at=now,
        day=today,
        took_s=time.monotonic() - begun,
        jurisdiction=workshop.jurisdiction,
        seq=change.head,
        alone_seq=change.head,
        size=size,
    )


def work(workshop: Workshop) -> None:
    """Do what a page of a large book has left to this process."""
    try:
        refresh(workshop)
    finally:
        Judged.objects.filter(workshop=workshop).update(begun_at=None)


def _judged(workshop: Workshop) -> Judged:
    return Judged.objects.get_or_create(workshop=workshop, defaults={"code": "", "at": clock.now()})[0]


def _stands(judged: Judged, workshop: Workshop) -> bool:
    """Whether what was judged was judged today, by the same rules and the same code."""
    same = judged.code == changes.code() and judged.jurisdiction == workshop.jurisdiction
    return same and judged.day == today_of(workshop)


def _is_small(judged: Judged, change: Change) -> bool:
    return judged.size + change.head - judged.seq <= SMALL


# Vehicle by vehicle


def _judge_alone(workshop: Workshop, judged: Judged) -> None:
    """Judge the few vehicles that have changed since that was last done; who would take longer waits for the whole."""
    change = changes.since(workshop, judged.alone_seq, alone=True)
    if not change:
        return
    outdated = visits.outdated(workshop, change.vehicles)
    soon, reads = [], 0
    for account in sorted(outdated, key=lambda one: len(outdated[one])):
        reads += len(outdated[account])
        if reads <= READ_AT_ONCE:
            visits.read(workshop, outdated[account])
            soon.append(account)
    _judge_vehicles(workshop, soon, today_of(workshop), clock.now())
    for some in parts(change.noticed):
        Noticed.objects.filter(pk__in=some).update(alone=True)
    Judged.objects.filter(pk=judged.pk).update(alone_seq=change.head)


def _judge_vehicles(workshop: Workshop, accounts: Sequence[int], today: date, now: datetime) -> None:
    """Judge the visits of some vehicles by the rules that need nothing else of the book."""
    found = list(visits.kept(workshop, gathering.since(workshop, today), accounts))
    facts = gathering.facts_alone(workshop, today, found)
    rules = [rule for rule in rules_of(facts.jurisdiction) if rule.by_vehicle]
    abouts = [f"visit:{visit.number}" for visit in found]
    known = Finding.objects.filter(workshop=workshop, about__in=abouts).exclude(rule__in=OF_BOOK)
    judgements = [(rule, one) for rule in rules for one in judge(rule, facts)]
    keep(workshop, known, judgements, lambda _: True, today=today, now=now)


# The whole book


def _judge_book(workshop: Workshop, today: date, now: datetime) -> int:
    """Judge by all other rules, and by those for what is no visit; return how many visits and lines were looked at."""
    facts = gathering.facts_of_book(workshop, today)
    others = replace(facts, visits=())
    rules = rules_of(facts.jurisdiction)
    judgements = [(rule, one) for rule in rules for one in judge(rule, others if rule.by_vehicle else facts)]
    abouts = {f"visit:{one.number}" for one in facts.visits}

    def was_judged(finding: Finding) -> bool:
        # What was not among the facts keeps its last state.
        if finding.about.startswith("visit:"):
            return finding.about in abouts
        return not finding.about.startswith(("line:", "consignment:")) or finding.day > today - gathering.WINDOW

    of_book = Q(rule__in=OF_BOOK) | ~Q(about__startswith="visit:")
    keep(workshop, Finding.objects.filter(of_book, workshop=workshop), judgements, was_judged, today=today, now=now)
    return len(facts.visits) + len(facts.lines)


# The process of a large book


def _set_going(workshop: Workshop, judged: Judged) -> None:
    """Start a process that judges the whole, unless one is at it or the last one took long and rests."""
    now = clock.now()
    if judged.code and now - judged.at < timedelta(seconds=REST * judged.took_s):
        return
    free = Judged.objects.filter(Q(begun_at=None) | Q(begun_at__lt=now - SILENT), pk=judged.pk)
    if free.update(begun_at=now):
        subprocess.Popen(  # noqa: S603 - our own command, its one argument a number
            [sys.executable, str(settings.BASE_DIR / "manage.py"), "judge", str(workshop.pk)],
            stdin=subprocess.DEVNULL,
            stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,
            start_new_session=True,  # it goes on when the worker that began it is renewed
            env={**os.environ, "SECRET_KEY": settings.SECRET_KEY},
        )


def _still_at_it(judged: Judged) -> None:
    Judged.objects.filter(pk=judged.pk, begun_at__isnull=False).update(begun_at=clock.now())


def _importing(workshop: Workshop) -> bool:
    """Whether an import is at work; one whose process is gone is seen to be stopped."""
    jobs = list(ImportJob.objects.filter(workshop=workshop, state=ImportJob.AT_WORK))
    for job in jobs:
        importjobs.look(job)
    return any(job.state == ImportJob.AT_WORK for job in jobs)
