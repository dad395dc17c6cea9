"""A book that an earlier release wrote: upgraded as DEVELOPERS.md says, it is the same book, and goes on.

`before-totals.sqlite3.xz` is the told year as the release of 28 November 2026 at 03:12 wrote it, with six documents
issued: before totals by day, histories, kept facts, signatures and seals of newer kinds. `statement.json` is what that
release printed of its year.
"""

import json
import lzma
import os
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest

from tests import databases
from tests.told import SECRET_KEY

HERE = Path(__file__).resolve().parent
ROOT = HERE.parents[2]
YEAR = ("--book", "Port Ellery", "--from", "2025-01-01", "--to", "2025-12-31", "--basis", "AR4", "--format", "json")
# Whoever works there opens pages of all wings, then weighs a cylinder through its form.
GOES_ON = """
from django.test import Client
from django.test.utils import setup_test_environment
from inventory.models import Cylinder, Scale
from shop.models import User
from tests.answers import confirm, words
setup_test_environment()  # answers then carry their context
home = "/w/port-ellery/"
pages = ("", "cylinders/", "lines/", "visits/", "vehicles/", "findings/", "documents/5/", "year/", "statements/")
client = Client(headers={"host": "127.0.0.1"})
client.force_login(User.objects.get(username="owner"))
for page in pages:
    print(page, client.get(home + page, follow=True).status_code)
cylinder = Cylinder.objects.filter(account__holdings__mass_mg__gt=0).order_by("account__number").first()
at = f"{home}cylinders/{cylinder.account.number}/weigh/"
scale = Scale.objects.order_by("number").first().number
grams = (cylinder.tare_mg + cylinder.account.holdings.get().mass_mg) // 1000
read = {"gross": str(grams / 1000), "gross_unit": "kg", "scale": str(scale)}
answer = confirm(client, at, read)
print("weigh", answer.status_code, words(answer).partition("put-right")[2][:800])
"""

pytestmark = [pytest.mark.processes, pytest.mark.any_database]  # the book is a file of SQLite


@pytest.fixture(scope="module")
def migrated_once(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The folder of an old book that has just been migrated, which takes seconds; nobody writes there."""
    folder = tmp_path_factory.mktemp("old")
    (folder / "book.sqlite3").write_bytes(lzma.decompress((HERE / "before-totals.sqlite3.xz").read_bytes()))
    manage(folder, "migrate", "--verbosity", "0")
    return folder


@pytest.fixture
def upgraded(migrated_once: Path, tmp_path: Path) -> Path:
    """The folder of an old book that was migrated, for one test."""
    databases.copy(f"sqlite:///{migrated_once}/book.sqlite3", f"sqlite:///{tmp_path}/book.sqlite3")
    return tmp_path


def manage(folder: Path, *words: str) -> str:
    """Run a command of the product over the folder's book and return what it printed."""
    environment = {
        **os.environ,
        "DATABASE_URL": f"sqlite:///{folder}/book.sqlite3",
        "SECRET_KEY": SECRET_KEY,
        "TAREBOOK_MEDIA": str(folder / "media"),
    }
    command = [sys.executable, "manage.py", *words]
    done = subprocess.run(command, cwd=ROOT, env=environment, check=False, capture_output=True, text=True)
    assert done.returncode == 0, done.stdout + done.stderr
    return done.stdout


def old_part(new: Any, old: Any) -> Any:
    """Return of a newer statement what an older one has keys for: keys are added, none is changed."""
    if isinstance(old, dict):
        return {key: old_part(new[key], value) for key, value in old.items()}
    if isinstance(old, list):
        assert len(new) == len(old)
        return [old_part(one, was) for one, was in zip(new, old, strict=True)]
    return new


def test_the_book_of_an_earlier_release_is_proved_and_its_year_and_papers_are_the_same(upgraded: Path) -> None:
    said = manage(upgraded, "verify")
    assert "36 lines with 40 movements and 38 weighings are as they were written; head 36, ef1b80f98cb89b77" in said
    assert "6 documents are as issued" in said
    old = json.loads((HERE / "statement.json").read_text())
    assert old_part(json.loads(manage(upgraded, "statement", *YEAR)), old) == old
    for code in ("1NCH-CD8B-7Y3B", "9EYV-112S-2S5H"):
        assert "book Port Ellery is as it was written" in manage(upgraded, "verify", "--document", code)


def test_the_book_of_an_earlier_release_goes_on(upgraded: Path) -> None:
    *pages, weighed = manage(upgraded, "shell", "--no-imports", "--command", GOES_ON).splitlines()
    assert {page.split()[-1] for page in pages} == {"200"}, pages
    assert weighed.split()[:2] == ["weigh", "303"], weighed
    assert "37 lines with" in manage(upgraded, "verify")
    kept = databases.rows(f"sqlite:///{upgraded}/book.sqlite3", "SELECT count(*) FROM inventory_trace")
    assert kept[0][0] > 0
