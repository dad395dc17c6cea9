"""The page that hands out the whole book: a press becomes a job, the job a file, for the owner alone and for a day."""

import os
import subprocess
import zipfile
from collections.abc import Callable
from datetime import timedelta
from io import BytesIO
from pathlib import Path
from types import SimpleNamespace
from typing import Any
from uuid import uuid4

import pytest
from django.test import Client
from django.utils import timezone

from shop.importing import jobs
from shop.models import ImportJob
from tests.answers import words

pytestmark = pytest.mark.django_db

ADDRESS = "/w/port-ellery/export/"


@pytest.fixture(autouse=True)
def started(monkeypatch: pytest.MonkeyPatch, settings: Any, tmp_path: Path) -> None:
    """Start no process: it would work on another database than the test's."""
    settings.MEDIA_ROOT = tmp_path
    monkeypatch.setattr(subprocess, "Popen", lambda command, **_: SimpleNamespace(pid=os.getpid()))


@pytest.fixture
def exported(owner_client: Client, cylinder: Any) -> Callable[[], ImportJob]:
    def exported() -> ImportJob:
        owner_client.post(ADDRESS, {"key": str(uuid4()), "pictures": "on"})
        job = ImportJob.objects.latest("pk")
        jobs.work(job)
        job.refresh_from_db()
        return job

    return exported


def test_the_page_is_reached_from_the_settings_and_says_what_the_file_holds_and_lacks(
    exported: Any, owner_client: Client, technician_client: Client
) -> None:
    assert f'href="{ADDRESS}"' in owner_client.get("/w/port-ellery/settings/").content.decode()
    assert f'href="{ADDRESS}"' not in technician_client.get("/w/port-ellery/settings/").content.decode()
    page = words(owner_client.get(ADDRESS))
    assert "names, telephones and plates of customers" in page
    assert "Passwords and PINs, issued documents" in page
    assert '<button class="main">Export the book</button>' in page
    assert "None yet." in page
    job = exported()
    assert f"{job.file_name}</a>" in words(owner_client.get(ADDRESS))


def test_what_was_asked_for_is_a_file_to_take(exported: Any, owner_client: Client, book: Any) -> None:
    job = exported()
    page = owner_client.get(f"/w/port-ellery/import/{job.pk}/").content.decode()
    assert "Export of port-ellery-" in page
    assert "Take the file" in page
    answer = owner_client.get(f"{ADDRESS}{job.pk}/file/")
    assert "attachment" in answer["Content-Disposition"]
    with zipfile.ZipFile(BytesIO(b"".join(answer))) as file:
        assert file.read("entries.csv").count(b"\n") == 1 + book.entries.count()


def test_a_double_press_is_one_file(owner_client: Client) -> None:
    sent = {"key": str(uuid4())}
    assert owner_client.post(ADDRESS, sent)["Location"] == owner_client.post(ADDRESS, sent)["Location"]
    assert ImportJob.objects.get().matching == {"pictures": False}


def test_after_a_day_the_file_is_removed(exported: Any, owner_client: Client) -> None:
    job = exported()
    ImportJob.objects.update(ended_at=timezone.now() - timedelta(days=1, minutes=1))
    owner_client.get(ADDRESS)
    assert list(jobs.folder().iterdir()) == []
    assert owner_client.get(f"{ADDRESS}{job.pk}/file/").status_code == 404
    page = owner_client.get(f"/w/port-ellery/import/{job.pk}/").content.decode()
    assert "The file is not here any more" in page


def test_a_folder_that_is_gone_is_a_sentence(exported: Any, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(jobs, "file_of", lambda job: jobs.folder() / "missing" / "x.zip")
    job = exported()
    assert (job.state, job.reason.split(":")[0]) == (ImportJob.STOPPED, "A file cannot be written or read here")


def test_only_the_owner_may(exported: Any, technician_client: Client, stranger_client: Client) -> None:
    job = exported()
    for address in (ADDRESS, f"{ADDRESS}{job.pk}/file/"):
        assert [one.get(address).status_code for one in (technician_client, stranger_client)] == [403, 404]
