"""Findings on their page: by what closes them, breaches first and open, decided from the list; files keep all rows."""

import re
from datetime import UTC, date, datetime
from html import unescape
from typing import Any
from uuid import uuid4

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.utils.html import escape

from compliance.models import Decision, Finding
from compliance.rules.all import BY_ID, RULES
from compliance.rules.rule import WAYS
from tests.answers import words

PAGE = "/w/port-ellery/findings/"
GUIDE = next(one.id for one in BY_ID.values() if one.guide)
FIRM = [one.id for one in BY_ID.values() if not one.guide][:2]


def find(workshop: Any, rule: str, state: str, day: int, about: str = "book") -> Finding:
    on = date(2026, 3, day)
    facts = {"rule": rule, "about": about, "part": str(day), "state": state, "words": f"On {day}."}
    judged_at = datetime(2026, 3, 30, tzinfo=UTC)
    return Finding.objects.create(workshop=workshop, day=on, law_of=on, judged_at=judged_at, **facts)


def ruled(way: str, *, guide: bool = False) -> list[str]:
    """The rules that one way closes."""
    return [one.id for one in RULES if one.closed_by == way and one.guide == guide]


def groups_on(client: Client, query: str = "") -> list[Any]:
    return list(client.get(f"{PAGE}{query}").context["groups"])


def pressed(group: Any, *ticked: object, kind: str = "explained", reason: str = "Seen to.", key: Any = None) -> Any:
    sent = {"group": group.name, "key": str(key or uuid4()), "kind": kind, "reason": reason}
    return {**sent, "finding": [str(one) for one in ticked]}


def test_breach_stands_before_open_before_guidance_and_the_newest_first(workshop: Any, owner_client: Client) -> None:
    owner_client.get(PAGE)  # judged, so that what is made here stands until something changes
    find(workshop, GUIDE, Finding.OPEN, 9)
    find(workshop, ruled("weigh")[0], Finding.OPEN, 8)
    for day in (3, 5, 4):
        find(workshop, ruled("visit")[0], Finding.BREACH, day)
    groups = groups_on(owner_client)
    assert [(one.word, one.count) for one in groups] == [("breach", 3), ("open", 1), ("shown as guidance", 1)]
    assert [one.words for one in groups[0].kinds[0].items] == ["On 5.", "On 4.", "On 3."]


def test_findings_of_several_rules_stand_together_under_what_closes_them(workshop: Any, owner_client: Client) -> None:
    owner_client.get(PAGE)
    first, second = ruled("certificate")[:2]
    for rule, day in ((first, 3), (second, 5), (first, 4)):
        find(workshop, rule, Finding.OPEN, day)
    (group,) = groups_on(owner_client)
    assert (group.closed, group.count, group.act.words) == (WAYS["certificate"], 3, "Go to the people")
    assert [(kind.now, kind.count) for kind in group.kinds] == [(BY_ID[second].now, 1), (BY_ID[first].now, 2)]
    page = owner_client.get(PAGE).content.decode()
    assert all(escape(BY_ID[rule].now) in page for rule in (first, second))


def test_a_breach_is_never_folded_and_all_else_is(workshop: Any, owner_client: Client) -> None:
    owner_client.get(PAGE)
    find(workshop, ruled("visit")[0], Finding.BREACH, 3)
    find(workshop, ruled("weigh")[0], Finding.OPEN, 4)
    page = owner_client.get(PAGE).content.decode()
    outside = re.sub(r"<details(?: [^>]*)?>(?:(?!<details).)*?</details>", "", page, flags=re.DOTALL)
    outside = re.sub(r"<details(?: [^>]*)?>(?:(?!<details).)*?</details>", "", outside, flags=re.DOTALL)
    assert "On 3." in outside
    assert "On 4." in page
    assert "On 4." not in outside


def test_a_kind_shows_its_newest_with_the_way_to_all_and_files_keep_one_row_each(
    workshop: Any, technician_client: Client
) -> None:
    technician_client.get(PAGE)
    for day in range(1, 26):
        find(workshop, FIRM[1], Finding.BREACH, day)
    page = technician_client.get(PAGE)
    (group,) = page.context["groups"]
    (kind,) = group.kinds
    assert (kind.count, len(kind.items), group.form) == (25, 20, None)
    assert "All 25 as a table" in page.content.decode()
    table = technician_client.get(kind.as_table)
    assert table.context["groups"] == []
    assert "25 findings" in table.content.decode()
    lines = b"".join(technician_client.get(f"{PAGE}?format=csv").streaming_content).decode().splitlines()
    assert len(lines) == 26
    assert lines[0].endswith(",now")
    assert BY_ID[FIRM[1]].now in lines[1]


def test_what_is_ticked_is_decided_from_the_list_each_with_its_own_record(workshop: Any, owner_client: Client) -> None:
    owner_client.get(PAGE)
    rule = ruled("visit")[0]
    found = [find(workshop, rule, Finding.OPEN, day) for day in (3, 4, 5)]
    (group,) = groups_on(owner_client)
    sent = pressed(group, found[0].pk, found[2].pk, reason="The gauge was away for its check.")
    for _ in range(2):  # pressed twice, written once
        answer = owner_client.post(PAGE, sent, follow=True)
        assert "Written of 2 findings: explained." in answer.content.decode()
    made = Decision.objects.order_by("finding")
    assert [(one.finding_id, one.reason) for one in made] == [
        (one.pk, "The gauge was away for its check.") for one in (found[0], found[2])
    ]
    assert [(one.state, one.closed, one.count) for one in groups_on(owner_client)] == [
        ("open", WAYS["visit"], 1),
        ("decided", "Explained", 2),
    ]


def test_all_of_a_kind_are_ticked_by_one_box(workshop: Any, owner_client: Client) -> None:
    owner_client.get(PAGE)
    found = [find(workshop, FIRM[1], Finding.OPEN, day) for day in range(1, 26)]
    (group,) = groups_on(owner_client)
    box = ",".join(str(key) for key in group.kinds[0].keys)
    assert f'value="{box}"' in owner_client.get(PAGE).content.decode()
    owner_client.post(PAGE, pressed(group, box, found[3].pk, kind="accepted"))
    assert Decision.objects.filter(kind="accepted").count() == 25


def test_of_all_or_of_none(workshop: Any, owner_client: Client, other_workshop: Any) -> None:
    owner_client.get(PAGE)
    here, met = find(workshop, FIRM[1], Finding.OPEN, 3), find(workshop, FIRM[1], Finding.MET, 4)
    there = find(other_workshop, FIRM[1], Finding.OPEN, 5)
    (group,) = groups_on(owner_client)
    for sent, says in (
        (pressed(group), "Tick the findings that this is about."),
        (pressed(group, "1,x"), "That is no finding of this list."),
        (pressed(group, here.pk, reason=" "), "Enter: why."),
        (pressed(group, here.pk, met.pk), "1 of these are met meanwhile"),
        (pressed(group, here.pk, there.pk), "Some of these are no findings of this workshop."),
    ):
        answer = owner_client.post(PAGE, sent)
        assert answer.status_code == 422
        assert says in answer.content.decode()
        ticked = [str(here.pk)] if str(here.pk) in sent["finding"] else []
        assert re.findall(r'value="(\d+)" checked', answer.content.decode()) == ticked, "what was ticked stays"
        assert answer.context["groups"][0].is_open
    assert not Decision.objects.exists()


@pytest.mark.parametrize("group", ["%", "%s", "%d", "a b", "\0"])
def test_a_group_that_there_is_not_is_answered(workshop: Any, owner_client: Client, group: str) -> None:
    answer = owner_client.post(
        f"/w/{workshop.slug}/findings/", {"group": group, "kind": "explained", "reason": "x", "finding": "1"}
    )
    assert answer.status_code == 422


def test_only_the_owner_decides(workshop: Any, technician_client: Client) -> None:
    technician_client.get(PAGE)
    one = find(workshop, FIRM[1], Finding.OPEN, 3)
    (group,) = groups_on(technician_client)
    assert technician_client.post(PAGE, pressed(group, one.pk)).status_code == 403
    assert not Decision.objects.exists()


def test_queries_of_the_list_do_not_grow(workshop: Any, owner_client: Client) -> None:
    owner_client.get(PAGE)

    def queries() -> int:
        with CaptureQueriesContext(connection) as made:
            owner_client.get(PAGE)
        return len(made)

    for way in ("check", "visit"):
        find(workshop, ruled(way)[0], Finding.OPEN, 1, "instrument:S1" if way == "check" else "visit:1")
    few = queries()
    for day in range(2, 12):
        find(workshop, ruled("check")[0], Finding.OPEN, day, f"instrument:S{day}")
        find(workshop, ruled("visit")[0], Finding.OPEN, day, f"visit:{day}")
    assert queries() == few


def test_the_checks_that_findings_led_to_lead_back_to_them(workshop: Any, owner_client: Client, scale: Any) -> None:
    owner_client.get(PAGE)
    scale.calibrated_until = date(2026, 1, 31)
    scale.save()
    made = find(workshop, ruled("check")[0], Finding.OPEN, 9, about=f"instrument:{scale.name}")
    (group,) = [one for one in groups_on(owner_client) if one.act and one.act.words == "Enter the checks"]
    alone = re.search(r'href="([^"]*/check/[^"]*)"', owner_client.get(f"{PAGE}{made.pk}/").content.decode())
    assert alone is not None
    facts = {"checked_on": "2026-01-05", "until": "2027-12-05", "by": "Scale house"}
    due = owner_client.get(group.act.href).context["form"].fields["which"].choices
    for there, which in ((group.act.href, [key for key, _ in due]), (unescape(alone[1]), [])):
        answer = owner_client.post(there, {**facts, "which": which})
        assert answer.status_code == 303, answer.content.decode()
        assert answer.headers["Location"] == PAGE


def test_a_single_finding_on_the_first_page_says_what_to_do_now(workshop: Any, owner_client: Client) -> None:
    owner_client.get(PAGE)
    rule = ruled("visit")[0]
    find(workshop, rule, Finding.BREACH, 3)
    assert f"On 3. {BY_ID[rule].now}" in words(owner_client.get("/w/port-ellery/"))
