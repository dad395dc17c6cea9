"""What the top floor adds to an invented year: findings and what was decided of them, papers, a partner's own list."""

import csv
from collections.abc import Iterable
from datetime import datetime, timedelta
from pathlib import Path

from django.conf import settings
from django.utils import timezone

from compliance.documents import issuing
from compliance.findings import decisions, judging
from compliance.matching import lists
from compliance.matching.lists import ours_of
from compliance.matching.pairs import DELIVERED, Ours
from compliance.matching.sheet import read_sheet
from compliance.models import Decision, Finding
from compliance.papers.paper import CONSIGNMENT, CONVERSION, VISIT
from compliance.rules.rule import MET
from inventory.book import clock
from inventory.models import Consignment, Partner
from shop.demo.cast import OWNER
from shop.demo.living import Living
from shop.models import Conversion, Visit

JUDGED = timedelta(days=35)  # before the end: when a month begins, and at the end
DECIDED = (
    (Decision.EXPLAINED, "book-standing-pressure", "The gauge was away for its check that day."),
    (
        Decision.EXPLAINED,
        "book-recovery-proof",
        "The label in the engine bay was of another engine.",
    ),
    (Decision.ACCEPTED, "book-weighings-disagree", "The cylinder still had dew on it; looked at with the technician."),
    (Decision.ACCEPTED, "book-remainder-settled", "The car had gone before this was seen."),
)
ASKED = timedelta(days=200)  # before the end: since when partners are asked for their lists
SHORT_MG, THEIRS_ALONE_MG = 350_000, 5_000_000


def on_the_way(living: Living, now: datetime) -> None:
    """Judge the book as its owner looks at it, and decide what can be decided; issue papers at the end."""
    if living.ends - now > JUDGED:
        return
    workshop = living.workshop
    with timezone.override(living.hands.zone), clock.played_at(now):
        judging.refresh(workshop, anyway=True)
        Finding.objects.filter(workshop=workshop, first_seen__gt=living.ends).update(first_seen=now)
        if now == living.ends:
            _issue(living, now)
        else:
            _decide(living)


def _decide(living: Living) -> None:
    owner = living.hands.people[OWNER]
    for kind, rule, reason in DECIDED:
        found = Finding.objects.filter(workshop=living.workshop, rule=rule, decisions=None).exclude(state=MET)
        if (finding := found.order_by("day", "pk").first()) is not None:
            decisions.decide(finding, kind, reason, by=owner, key=living.hands.key())


def _issue(living: Living, now: datetime) -> None:
    """Issue three papers: of the last visit, of the last conversion, and of what is under way to its receiver."""
    workshop, owner = living.workshop, living.hands.people[OWNER]
    last = Visit.objects.filter(workshop=workshop, state=Visit.CLOSED).latest("number")
    turned = Conversion.objects.filter(visit__workshop=workshop).latest("pk").visit
    sent = Consignment.objects.filter(entry__book=workshop.book, accepted_on=None, purpose="reclaim").latest("pk")
    for kind, about in (
        (VISIT, last.context),
        (CONVERSION, turned.context if turned else ""),
        (CONSIGNMENT, f"line:{sent.entry.seq}"),
    ):
        issuing.issue(workshop, kind, about, by=owner, key=living.hands.key(), now=now)


def ask_for_lists(living: Living) -> Path:
    """Ask two partners for their lists: the supplier, whose file is kept, and the reclaimer, who is late."""
    hands, place = living.hands, living.place
    for name in (place.supplier, place.reclaimer):
        Partner.objects.filter(pk=hands.partners[name].pk).update(lists_from=living.day - ASKED)
    path = partners_list(living)
    content, actor = path.read_bytes(), hands.people[OWNER].handle
    with timezone.override(hands.zone), clock.played_at(living.ends):
        supplier, sheet = hands.partners[place.supplier], read_sheet(content)
        lists.keep(supplier, sheet, content, name=path.name, first=living.first, last=living.day, actor=actor)
        judging.refresh(living.workshop, anyway=True)
    Finding.objects.filter(workshop=living.workshop, first_seen__gt=living.ends).update(first_seen=living.ends)
    return path


def partners_list(living: Living) -> Path:
    """Write what the supplier's own list would say: one mass is another there, one row is theirs alone, one is not."""
    supplier = living.hands.partners[living.place.supplier]
    ours = [one for one in ours_of(supplier, living.first, living.day) if one.direction == DELIVERED]
    path = Path(settings.MEDIA_ROOT) / f"{living.workshop.slug}-supplier.csv"
    path.parent.mkdir(parents=True, exist_ok=True)
    with path.open("w", encoding="utf-8", newline="") as file:
        csv.writer(file).writerows(_rows(ours))
    return path


def _rows(ours: list[Ours]) -> Iterable[tuple[str, ...]]:
    yield "date", "refrigerant", "mass", "paper_number", "direction"
    for number, one in enumerate(ours[:-1]):
        mass_mg = round(one.mass_mg, -4) - (SHORT_MG if number == 1 else 0)
        yield one.on.isoformat(), one.refrigerant, f"{mass_mg / 1e6:.3f} kg", one.paper, one.direction
    unknown = ours[-2].on + timedelta(days=2)
    yield unknown.isoformat(), ours[-2].refrigerant, f"{THEIRS_ALONE_MG / 1e6:.3f} kg", "DN-9907", DELIVERED
