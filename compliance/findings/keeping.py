"""What judgements become: findings, which stay for good. What no longer arises is *met*."""

from collections.abc import Callable, Iterable
from datetime import date, datetime

from django.db import transaction
from django.db.models import QuerySet

from compliance.models import Finding
from compliance.rules.rule import MET, Judgement, Rule
from shop.models import Workshop

NO_LONGER = "It no longer arises."
_SAID = ("state", "words", "way_out", "line", "person")  # of a judgement, and as it is kept

_Key = tuple[str, str, str]


def keep(
    workshop: Workshop,
    known: QuerySet[Finding],
    judgements: Iterable[tuple[Rule, Judgement]],
    was_judged: Callable[[Finding], bool],
    *,
    today: date,
    now: datetime,
) -> None:
    """Write what has changed: new findings, changed ones, and those of `known` that were judged and arise no longer."""
    there: dict[_Key, Finding] = {(one.rule, one.about, one.part): one for one in known}
    new: dict[_Key, Finding] = {}
    changed: dict[_Key, Finding] = {}
    seen: set[_Key] = set()
    for rule, judgement in judgements:
        key = (rule.id, judgement.about, judgement.part)
        values = _values(judgement, today, now)
        seen.add(key)
        if key not in there:
            new[key] = Finding(workshop=workshop, rule=rule.id, about=judgement.about, part=judgement.part, **values)
        elif _differs(there[key], values):
            changed[key] = _set(there[key], values)
    for key, finding in there.items():
        if key not in seen and finding.state != MET and was_judged(finding):
            gone = {"state": MET, "words": f"{NO_LONGER} It was: {finding.words}", "way_out": "", "judged_at": now}
            changed[key] = _set(finding, gone)
    if new or changed:
        with transaction.atomic():
            Finding.objects.bulk_create(new.values(), ignore_conflicts=True, batch_size=500)
            Finding.objects.bulk_update(changed.values(), (*_SAID, "law_of", "day", "judged_at"), batch_size=200)


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
