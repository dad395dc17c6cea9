"""Findings on their page: a line for each rule, breaches first, that opens to its items; files keep one row each."""

from datetime import UTC, date, datetime
from typing import Any

from django.test import Client

from compliance.models import Finding
from compliance.pages.grouped import groups_of
from compliance.rules.all import BY_ID

PAGE = "/w/port-ellery/findings/"
GUIDE = next(one.id for one in BY_ID.values() if one.guide)
FIRM = [one.id for one in BY_ID.values() if not one.guide][:2]


def find(workshop: Any, rule: str, state: str, day: int, about: str = "book") -> Finding:
    on = date(2026, 3, day)
    facts = {"rule": rule, "about": about, "part": str(day), "state": state, "words": f"On {day}."}
    judged_at = datetime(2026, 3, 30, tzinfo=UTC)
    return Finding.objects.create(workshop=workshop, day=on, law_of=on, judged_at=judged_at, **facts)


def test_breach_stands_before_open_before_guidance_and_the_newest_first(workshop: Any) -> None:
    find(workshop, GUIDE, Finding.OPEN, 9)
    find(workshop, FIRM[0], Finding.OPEN, 8)
    for day in (3, 5, 4):
        find(workshop, FIRM[1], Finding.BREACH, day)
    groups = groups_of(workshop, workshop.units, Finding.objects.order_by("-day"))
    assert [(one.word, one.count) for one in groups] == [("breach", 3), ("open", 1), ("shown as guidance", 1)]
    assert [one.words for one in groups[0].items] == ["On 5.", "On 4.", "On 3."]


def test_a_group_is_said_with_its_count_and_files_keep_one_row_each(workshop: Any, technician_client: Client) -> None:
    technician_client.get(PAGE)  # judged, so that what is made here stands until something changes
    for day in range(1, 26):
        find(workshop, FIRM[1], Finding.BREACH, day)
    page = technician_client.get(PAGE)
    (group,) = page.context["groups"]
    assert (group.count, len(group.items)) == (25, 20)
    assert "All 25 as a table" in page.content.decode()
    table = technician_client.get(group.all_of_them)
    assert table.context["groups"] == []
    assert "25 findings" in table.content.decode()
    file = technician_client.get(f"{PAGE}?format=csv")
    assert len(b"".join(file.streaming_content).splitlines()) == 26
