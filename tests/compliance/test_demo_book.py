"""The invented year as its command builds it: what a living workshop has on its last day."""

import json
from collections import Counter
from datetime import date, timedelta
from io import StringIO
from pathlib import Path
from typing import Any

import pytest
from django.core.management import CommandError, call_command
from django.db import transaction

from compliance.findings.decisions import GUIDE, shown, with_decisions
from compliance.matching.lists import ours_of
from compliance.matching.pairs import match
from compliance.matching.sheet import read_list
from compliance.models import Decision, Document, Finding
from compliance.rules.rule import BREACH, MET, OPEN
from inventory.models import AirCheck, Consignment, Partner, Photo, Weighing
from shop.demo.living import Living
from shop.models import User, Visit, Watch, Workshop
from tests.inventory.book.lines import untraced_digests

DAY = date(2026, 6, 19)


@pytest.mark.django_db
def test_the_year_ends_in_the_middle_of_a_working_day(tmp_path: Path, settings: Any) -> None:
    settings.MEDIA_ROOT = tmp_path
    said = StringIO()
    call_command("demo_book", until=DAY, stdout=said)
    workshop = Workshop.objects.get(name="Port Ellery")
    assert "June 2026: 151 visits so far" in said.getvalue()
    assert workshop.visits.filter(opened_at__date__gt=DAY - timedelta(days=28)).count() > 15
    assert Watch.objects.get(ended_at=None).visit == workshop.visits.latest("number")
    assert Weighing.objects.latest("pk").role == Weighing.BEFORE
    assert Counter(workshop.visits.values_list("state", flat=True))[Visit.WAITING] == 1
    assert AirCheck.objects.count() == 1
    assert Photo.objects.count() == 2
    assert Document.objects.count() == 3
    assert Consignment.objects.filter(accepted_on=None, purpose="reclaim").exists()
    _states_of_findings()
    _the_last_thirty_days()
    _a_list_to_match(tmp_path)
    with pytest.raises(CommandError, match="people in this database"):
        call_command("demo_book", place="us", stdout=said)
    call_command("demo_book", stdout=said)  # again: nothing but the password
    assert User.objects.get(username="owner").has_usable_password()


def _states_of_findings() -> None:
    words = Counter(shown(one).word for one in with_decisions(Finding.objects.all()))
    assert {OPEN, BREACH, MET, GUIDE, Decision.EXPLAINED, Decision.ACCEPTED} <= set(words)
    assert words[OPEN] + words[BREACH] < 40


def _the_last_thirty_days() -> None:
    out, first = StringIO(), DAY - timedelta(days=30)
    call_command("statement", "--book=Port Ellery", f"--from={first}", f"--to={DAY}", stdout=out)
    gas = {one["refrigerant"]: one for one in json.loads(out.getvalue())["refrigerants"]}
    charged, recovered = (sum(one[name] for one in gas.values()) for name in ("charged_mg", "recovered_mg"))
    assert set(gas) > {"R-134a", "R-1234yf"}
    assert charged > recovered > 1_000_000


def _a_list_to_match(folder: Path) -> None:
    supplier = Partner.objects.get(name="Harbour Gas Supply")
    theirs = read_list((folder / "port-ellery-supplier.csv").read_bytes())
    found = match(theirs, ours_of(supplier, DAY - timedelta(days=365), DAY))
    assert [pair.gap_mg < -300_000 for pair in found.pairs].count(True) == 1
    assert [row.paper for row in found.only_theirs] == ["DN-9907"]
    assert found.only_ours


@pytest.mark.django_db
@pytest.mark.parametrize("country", ["us", "in"])
def test_the_same_place_day_and_seed_give_the_same_book(country: str) -> None:
    assert _small(country) == _small(country)


def _small(country: str) -> str:
    """The head of a year of few visits, without the history that its lines name, which has salts; it is taken back."""
    before = transaction.savepoint()
    head = untraced_digests(Living.until(country, DAY, count=12).play(lambda *_: None).book)[-1]
    transaction.savepoint_rollback(before)
    return head
