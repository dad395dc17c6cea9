"""The page that brings a year: a file becomes a job, the job says how far it is and how it ended."""

import os
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path
from types import SimpleNamespace
from typing import Any
from uuid import uuid4

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client

from inventory.models import Entry
from shop.importing import jobs as importjobs
from shop.models import ImportJob

pytestmark = pytest.mark.django_db

ADDRESS = "/w/port-ellery/import/"
FILE = (
    "occurred_at,cause,refrigerant,grade,from_kind,from_name,to_kind,to_name,mass,person,note\n"
    "2024-01-01,opening-stock,R-134a,virgin,opening,,cylinder,A1,{},Ann,\n"
)


@pytest.fixture(autouse=True)
def started(monkeypatch: pytest.MonkeyPatch, settings: Any, tmp_path: Path) -> list[list[str]]:
    """Start no process: it would work on another database than the test's. What would have run is kept."""
    commands: list[list[str]] = []
    settings.MEDIA_ROOT = tmp_path

    def popen(command: list[str], **_: Any) -> SimpleNamespace:
        commands.append(command)
        return SimpleNamespace(pid=os.getpid())

    monkeypatch.setattr(subprocess, "Popen", popen)
    return commands


@pytest.fixture
def send(owner_client: Client) -> Callable[..., Any]:
    def send(
        mass: str = "10 kg", *, key: str | None = None, name: str = "year.csv", content: bytes | None = None
    ) -> Any:
        upload = SimpleUploadedFile(name, FILE.format(mass).encode() if content is None else content)
        return owner_client.post(ADDRESS, {"key": key or str(uuid4()), "file": upload})

    return send


def test_a_file_becomes_a_job_with_a_page(send: Any, owner_client: Client, started: list[list[str]]) -> None:
    answer = send()
    job = ImportJob.objects.get()
    assert (answer.status_code, answer["Location"]) == (303, f"{ADDRESS}{job.pk}/")
    assert started == [[sys.executable, started[0][1], "import_job", str(job.pk)]]
    assert "Waiting" in owner_client.get(answer["Location"]).content.decode()
    importjobs.work(job)
    page = owner_client.get(answer["Location"]).content.decode()
    assert "Done: 1 row read, 1 line written" in page
    assert Entry.objects.count() == 1
    assert list((importjobs.folder()).iterdir()) == []


def test_htmx_asks_until_it_has_ended(send: Any, owner_client: Client) -> None:
    address = send()["Location"]
    ask = {"HTTP_HX_REQUEST": "true", "HTTP_HX_TARGET": "progress"}
    assert 'id="progress"' in owner_client.get(address).content.decode()
    assert owner_client.get(address, **ask).status_code == 200
    importjobs.work(ImportJob.objects.get())
    ended = owner_client.get(address, **ask)
    assert ended.status_code == 286
    assert "HX-Request" in ended["Vary"]


def test_a_form_that_leads_to_work_already_done_gets_the_whole_page(send: Any, owner_client: Client) -> None:
    address = send()["Location"]
    importjobs.work(ImportJob.objects.get())
    answer = owner_client.get(address, HTTP_HX_REQUEST="true", HTTP_HX_TARGET="page")
    assert answer.status_code == 200
    assert 'id="page"' in answer.content.decode()


def test_faults_are_listed_and_nothing_is_written(send: Any, owner_client: Client) -> None:
    address = send("12")["Location"]
    importjobs.work(ImportJob.objects.get())
    page = owner_client.get(address).content.decode()
    assert "Stopped. One line cannot be taken." in page
    assert "mass: " in page
    assert Entry.objects.count() == 0


def test_the_same_file_again_says_that_it_was_there(send: Any, owner_client: Client) -> None:
    for _ in range(2):
        address = send()["Location"]
        importjobs.work(ImportJob.objects.latest("pk"))
    assert "0 lines written; all of them were there already" in owner_client.get(address).content.decode()
    assert Entry.objects.count() == 1


def test_a_double_press_is_one_job_and_it_works_once(send: Any, started: list[list[str]]) -> None:
    key = str(uuid4())
    assert send(key=key)["Location"] == send(key=key)["Location"]
    assert len(started) == 1
    for _ in range(2):
        importjobs.work(ImportJob.objects.get())
    assert Entry.objects.count() == 1


def test_a_job_whose_process_is_gone_says_so(send: Any, owner_client: Client) -> None:
    address = send()["Location"]
    gone = 2**22 - 3  # a number that no process here has
    ImportJob.objects.update(state=ImportJob.AT_WORK, pid=gone)
    assert "Its process ended before it was done. Nothing was written" in owner_client.get(address).content.decode()
    assert ImportJob.objects.get().state == ImportJob.STOPPED


@pytest.mark.parametrize(("content", "words"), [(b"", "The file is empty."), (b"a\x00b", "This is no CSV text")])
def test_what_is_no_csv_is_refused_beside_the_field(send: Any, content: bytes, words: str) -> None:
    answer = send(content=content)
    assert answer.status_code == 422
    assert words in answer.content.decode()
    assert not ImportJob.objects.exists()


def test_no_file_is_a_sentence(owner_client: Client) -> None:
    answer = owner_client.post(ADDRESS, {"key": str(uuid4())})
    assert answer.status_code == 422
    assert "Choose the file." in answer.content.decode()


def test_only_the_owner_may(technician_client: Client, reader_client: Client, stranger_client: Client) -> None:
    assert [c.get(ADDRESS).status_code for c in (technician_client, reader_client, stranger_client)] == [403, 403, 404]
