"""Findings as their page shows them first: by state, then by what closes them, then by kind; the newest first.

A breach stands open; everything else opens from a line with its count. Each kind says in one line what to do now, and
what is ticked in a group is decided there.
"""

from collections import defaultdict
from collections.abc import Mapping
from dataclasses import dataclass
from urllib.parse import urlencode

from django.db.models import Count, Exists, OuterRef, QuerySet
from django.urls import reverse

from compliance.findings.decisions import GUIDE, Shown, records_words, shown
from compliance.models import Decision, Finding
from compliance.pages.addresses import record_address
from compliance.pages.forms.findings import TickedDecisionForm, duty_of
from compliance.pages.tables.findings import decided_words
from compliance.rules.rule import BREACH, OPEN, WAYS
from inventory.measure.spoken import in_own_units
from inventory.pages import comeback
from inventory.pages.links import Link
from shop.pages.middleware import ShopRequest

ORDER = (BREACH, OPEN, GUIDE)  # what was decided comes after them
MOST_ITEMS = 20  # of one kind; its table has them all
MOST_READ, MOST_TICKED = 500, 100  # where there are more, so many of each kind are read, and ticked at once
# The page that closes many of a group in one go, and whether it is the owner's alone.
ACTS = {
    "check": ("instrument-checks", "Enter the checks", False),
    "weigh": ("stock-take", "Count by weighing", False),
    "certificate": ("people", "Go to the people", False),
    "workshop": ("settings-workshop", "Go to the settings", True),
}


@dataclass(frozen=True)
class Item:
    """One finding: its record with its address (empty where it has none), what the book shows, what was decided."""

    finding: Finding
    record: str
    record_href: str
    words: str
    decided: str
    href: str


@dataclass(frozen=True)
class Kind:
    """The findings of one rule in a group, the newest first: what to do now, and the duty behind it."""

    now: str
    duty: str
    keys: tuple[int, ...]
    more: int  # older ones, which were not read
    items: list[Item]
    as_table: str

    @property
    def count(self) -> int:
        return len(self.keys) + self.more


@dataclass(frozen=True)
class Group:
    """What one way closes of one state; `act` is the page that settles many, where there is one."""

    name: str
    word: str
    closed: str
    kinds: list[Kind]
    act: Link | None
    form: TickedDecisionForm | None
    is_open: bool

    @property
    def count(self) -> int:
        return sum(kind.count for kind in self.kinds)

    @property
    def is_breach(self) -> bool:
        return self.word == BREACH

    @property
    def is_decided(self) -> bool:
        return self.word not in ORDER

    @property
    def state(self) -> str:
        """The word that it stands under."""
        return "decided" if self.is_decided else self.word


def groups_of(
    request: ShopRequest, findings: QuerySet[Finding], sent: tuple[str, TickedDecisionForm] | None = None
) -> list[Group]:
    """Return findings in groups: breach, open, guidance, decided; in each by what closes them, the newest first.

    Of many only the newest of each kind are read, and the others counted.
    `sent` is the form that came of one group, by the group's name, with what is to be put right.
    """
    by_way: dict[tuple[str, str], dict[str, list[Shown]]] = defaultdict(lambda: defaultdict(list))
    newest, more = _newest(findings)
    for one in map(shown, newest):
        way = one.rule.closed_by if one.rule and one.word in ORDER else ""
        by_way[one.word, way][one.finding.rule].append(one)
    told = [one.finding.about for kinds in by_way.values() for kind in kinds.values() for one in kind[:MOST_ITEMS]]
    records = records_words(request.workshop, told)
    only = len(by_way) == 1
    return [
        _group(request, word, way, by_way[word, way], records, more if word in ORDER else {}, only=only, sent=sent)
        for word, way in sorted(by_way, key=_place)
    ]


def _newest(rows: QuerySet[Finding]) -> tuple[list[Finding], dict[str, int]]:
    """Return all findings, newest first, or of many the newest of each rule; and how many more it has."""
    rows = rows.order_by("-day", "-pk")
    if rows.order_by()[: MOST_READ + 1].count() <= MOST_READ:
        return list(rows), {}
    decided = Exists(Decision.objects.filter(finding=OuterRef("pk")))
    last = Decision.objects.order_by("-at").values_list("finding", flat=True)[:MOST_READ]
    found, more = list(rows.filter(pk__in=set(last))), dict[str, int]()
    kinds = rows.exclude(decided).order_by().values_list("state", "rule").annotate(count=Count("pk"))
    for state, rule, count in kinds:
        some = list(rows.exclude(decided).filter(state=state, rule=rule)[:MOST_TICKED])
        found += some
        more[rule] = more.get(rule, 0) + count - len(some)
    return sorted(found, key=lambda one: (one.day, one.pk), reverse=True), more


def _place(group: tuple[str, str]) -> tuple[int, str, int]:
    word, way = group
    order = ORDER.index(word) if word in ORDER else len(ORDER)
    return order, word, [*WAYS, ""].index(way)


def _group(
    request: ShopRequest,
    word: str,
    way: str,
    kinds: Mapping[str, list[Shown]],
    records: Mapping[str, str],
    more: Mapping[str, int],
    *,
    only: bool,
    sent: tuple[str, TickedDecisionForm] | None,
) -> Group:
    name = f"{word}-{way}".replace(" ", "-").strip("-")
    came = sent[1] if sent and sent[0] == name else None
    return Group(
        name=name,
        word=word,
        closed=WAYS.get(way, word.capitalize()),
        kinds=[_kind(request, rule, found, records, more.get(rule, 0)) for rule, found in kinds.items()],
        act=_act(request, way) if word in (BREACH, OPEN) else None,
        form=came or _form(request, name) if request.access.is_owner else None,
        is_open=only or came is not None,
    )


def _form(request: ShopRequest, name: str) -> TickedDecisionForm:
    return TickedDecisionForm(access=request.access, auto_id=f"{name}_%s")


def _kind(request: ShopRequest, rule: str, found: list[Shown], records: Mapping[str, str], more: int) -> Kind:
    first, slug = found[0], request.access.slug
    return Kind(
        now=first.rule.now if first.rule else "",
        duty=duty_of(rule),
        keys=tuple(one.finding.pk for one in found),
        more=more,
        items=[_item(request, one, records) for one in found[:MOST_ITEMS]],
        as_table=f"{reverse('findings', args=[slug])}?rule={rule}&sort=-day",
    )


def _item(request: ShopRequest, one: Shown, records: Mapping[str, str]) -> Item:
    finding, access = one.finding, request.access
    instrument = finding.about.startswith("instrument:")  # the page of its group takes its check
    return Item(
        finding=finding,
        record=records[finding.about],
        record_href="" if instrument else record_address(access, finding.about),
        words=in_own_units(finding.words, access.units),
        decided=decided_words(one) if one.decision else "",
        href=reverse("finding", args=[access.slug, finding.pk]),
    )


def _act(request: ShopRequest, way: str) -> Link | None:
    """Return the page that settles many of a group; once it has written it leads back to the findings."""
    access = request.access
    if way not in ACTS or not access.may_write:
        return None
    name, words, owner_only = ACTS[way]
    if owner_only and not access.is_owner:
        return None
    return Link(words, f"{reverse(name, args=[access.slug])}?{urlencode({comeback.BACK: request.get_full_path()})}")
