"""Imports that a page has started: each runs in a process of its own, which its page can ask about and leave.

The import itself is one transaction, so how far it is cannot stand in the database: the process writes it into a small
file beside the upload. A job whose process is gone is *stopped*, and nothing of it was written.
"""

import json
import os
import subprocess
import sys
from contextlib import suppress
from dataclasses import dataclass
from datetime import timedelta
from pathlib import Path
from typing import Any
from uuid import UUID
from zoneinfo import ZoneInfo

from django.conf import settings
from django.core.files.uploadedfile import UploadedFile
from django.utils import timezone

from shop.importing.read import NotImported
from shop.importing.write import import_file
from shop.models import ImportJob, User, Workshop

LARGEST_BYTES = 400_000_000  # some two million rows
TO_BEGIN = timedelta(minutes=1)
GONE = "Its process ended before it was done. Nothing was written; send the file again."


@dataclass(frozen=True)
class Progress:
    """How far a job is: rows read, rows written, of how many."""

    done: int
    total: int


def folder() -> Path:
    """Return the folder of uploads, made where it is missing."""
    path = Path(settings.MEDIA_ROOT) / "imports"
    path.mkdir(parents=True, exist_ok=True)
    return path


def _file(job: ImportJob) -> Path:
    return folder() / f"{job.request_key}.csv"


def _told(job: ImportJob) -> Path:
    return folder() / f"{job.request_key}.json"


def start(workshop: Workshop, user: User, key: UUID, upload: "UploadedFile[bytes]") -> ImportJob:
    """Keep an upload and set a process to work on it; the same form pressed twice is one job."""
    if (known := ImportJob.objects.filter(request_key=key, workshop=workshop).first()) is not None:
        return known
    job = ImportJob(workshop=workshop, started_by=user, request_key=key, file_name=(upload.name or "")[:200])
    with _file(job).open("wb") as kept:
        for chunk in upload.chunks():
            kept.write(chunk)
    job.save()
    process = subprocess.Popen(  # noqa: S603 - our own command, its one argument a number
        [sys.executable, str(settings.BASE_DIR / "manage.py"), "import_job", str(job.pk)],
        stdin=subprocess.DEVNULL,
        stdout=subprocess.DEVNULL,
        stderr=subprocess.DEVNULL,
        start_new_session=True,  # it goes on when the worker that began it is renewed
        env={**os.environ, "SECRET_KEY": settings.SECRET_KEY},
    )
    ImportJob.objects.filter(pk=job.pk).update(pid=process.pid)
    return job


def work(job: ImportJob) -> None:
    """Do a waiting job; whoever comes second finds it taken and does nothing."""
    claimed = ImportJob.objects.filter(pk=job.pk, state=ImportJob.WAITING)
    if not claimed.update(state=ImportJob.AT_WORK, pid=os.getpid()):
        return
    facts: dict[str, Any]
    try:
        result = import_file(
            _file(job),
            ZoneInfo(job.workshop.book.zone),
            lambda: job.workshop,
            progress=lambda done, total: _tell(job, done, total),
        )
    except NotImported as error:
        faults = [list(fault) for fault in error.faults]
        facts = {"state": ImportJob.STOPPED, "reason": str(error), "faults": faults, "fault_count": error.count}
    else:
        facts = {
            "state": ImportJob.DONE,
            "lines_total": result.rows,
            "lines_done": result.rows,
            "lines_new": result.entries_new,
        }
    ImportJob.objects.filter(pk=job.pk).update(ended_at=timezone.now(), **facts)
    _file(job).unlink(missing_ok=True)
    _told(job).unlink(missing_ok=True)


def _tell(job: ImportJob, done: int, total: int) -> None:
    told = _told(job)
    beside = told.with_suffix(".new")
    beside.write_text(json.dumps([done, total]))
    beside.replace(told)


def look(job: ImportJob) -> Progress:
    """Return how far a job is; one whose process is gone becomes *stopped* first."""
    if job.state in (ImportJob.WAITING, ImportJob.AT_WORK) and _is_gone(job):
        unfinished = ImportJob.objects.filter(pk=job.pk, state__in=(ImportJob.WAITING, ImportJob.AT_WORK))
        unfinished.update(state=ImportJob.STOPPED, reason=GONE, ended_at=timezone.now())
        _file(job).unlink(missing_ok=True)
        _told(job).unlink(missing_ok=True)
        job.refresh_from_db()
    if job.state == ImportJob.AT_WORK:
        try:
            done, total = json.loads(_told(job).read_text())
            return Progress(done, total)
        except (OSError, ValueError):
            return Progress(0, 0)
    return Progress(job.lines_done, job.lines_total)


def _is_gone(job: ImportJob) -> bool:
    if job.pid is None:
        return timezone.now() - job.started_at > TO_BEGIN
    with suppress(OSError):
        os.waitpid(job.pid, os.WNOHANG)  # a child of this worker that has ended is let go
    try:
        os.kill(job.pid, 0)
    except ProcessLookupError:
        job.refresh_from_db()
        return job.state in (ImportJob.WAITING, ImportJob.AT_WORK)
    except PermissionError:
        return False
    return False
