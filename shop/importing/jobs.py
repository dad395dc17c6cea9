"""Long work that a page has started: each runs in a process of its own, which its page can ask about and leave.

An import is one transaction, so how far it is cannot stand in the database: the process writes it into a small file
beside the upload. A job whose process is gone is *stopped*, and nothing of it was written. What an export wrote lies
here for a day.
"""

import json
import os
import subprocess
import sys
from collections.abc import Callable
from contextlib import suppress
from dataclasses import asdict, dataclass, replace
from datetime import timedelta
from pathlib import Path
from typing import Any
from uuid import UUID
from zoneinfo import ZoneInfo

from django.conf import settings
from django.core.files.uploadedfile import UploadedFile
from django.utils import timezone

from shop.importing.read import NotImported
from shop.importing.sheets.columns import Matching
from shop.importing.sheets.into import import_sheet
from shop.importing.sheets.looking import headers_of, remember
from shop.importing.sheets.opening import NotASheet, opened
from shop.importing.whole.give import give
from shop.importing.write import import_file
from shop.models import ImportJob, User, Workshop

LARGEST_BYTES = 400_000_000  # some two million rows
TO_BEGIN = timedelta(minutes=1)
GONE = "Its process ended before it was done. Nothing was written; send the file again."
GONE_SHEET = "Its process ended before it was done. Nothing was written; what was matched is kept. Begin again."
PUT_AWAY = "It was not begun for a week, and the file was removed. Send it again."
GONE_EXPORT = "Its process ended before it was done. There is no file of it; begin again."
KEPT_FOR = timedelta(days=1)  # how long what was exported lies ready
SHEET_KEPT_FOR = timedelta(days=7)  # how long a sheet waits for its matching
SUFFIXES = {ImportJob.YEAR: "csv", ImportJob.SHEET: "sheet", ImportJob.EXPORT: "zip"}


@dataclass(frozen=True)
class Progress:
    """How far a job is: rows read, rows written, of how many."""

    done: int
    total: int


def folder() -> Path:
    """Return the folder of uploads and exports, made where it is missing."""
    path = Path(settings.MEDIA_ROOT) / "imports"
    path.mkdir(parents=True, exist_ok=True)
    return path


def file_of(job: ImportJob) -> Path:
    """Return where the file of a job lies: what was sent, or what was exported."""
    return folder() / f"{job.request_key}.{SUFFIXES[job.what]}"


def _told(job: ImportJob) -> Path:
    return folder() / f"{job.request_key}.json"


def start(workshop: Workshop, user: User, key: UUID, upload: "UploadedFile[bytes]") -> ImportJob:
    """Keep an upload and set a process to work on it; the same form pressed twice is one job."""
    job, made = _received(workshop, user, key, upload)
    if made:
        set_going(job)
    return job


def receive(workshop: Workshop, user: User, key: UUID, upload: "UploadedFile[bytes]") -> ImportJob:
    """Keep a sheet whose columns are to be matched first; the same form pressed twice is one job."""
    return _received(workshop, user, key, upload, what=ImportJob.SHEET, state=ImportJob.TO_MATCH)[0]


def _received(
    workshop: Workshop, user: User, key: UUID, upload: "UploadedFile[bytes]", **facts: str
) -> tuple[ImportJob, bool]:
    """Return the job of an upload, and whether it is new; its file is kept before anybody can find it."""
    if (known := ImportJob.objects.filter(request_key=key, workshop=workshop).first()) is not None:
        return known, False
    name = (upload.name or "")[:200]
    job = ImportJob(workshop=workshop, started_by=user, request_key=key, file_name=name, **facts)
    with file_of(job).open("wb") as kept:
        for chunk in upload.chunks():
            kept.write(chunk)
    job.save()
    return job, True


def put_away(job: ImportJob) -> None:
    """Forget a sheet that cannot be opened, with its file."""
    file_of(job).unlink(missing_ok=True)
    job.delete()


def begin_sheet(job: ImportJob) -> None:
    """Set the work on a matched sheet going, once, also after it was stopped."""
    rested = ImportJob.objects.filter(pk=job.pk, state__in=(ImportJob.TO_MATCH, ImportJob.STOPPED))
    if rested.update(
        state=ImportJob.WAITING, pid=None, started_at=timezone.now(), ended_at=None, reason="", faults=[], fault_count=0
    ):
        set_going(job)


def start_export(workshop: Workshop, user: User, key: UUID, *, pictures: bool) -> ImportJob:
    """Set a process to write the whole book into a file; the same form pressed twice is one job."""
    name = f"{workshop.slug}-{timezone.now():%Y-%m-%d}.zip"
    job, made = ImportJob.objects.get_or_create(
        request_key=key,
        workshop=workshop,
        defaults={
            "started_by": user,
            "what": ImportJob.EXPORT,
            "file_name": name,
            "matching": {"pictures": pictures},
        },
    )
    if made:
        set_going(job)
    return job


def set_going(job: ImportJob) -> None:
    """Start the process that works on a job."""
    process = subprocess.Popen(  # noqa: S603 - our own command, its one argument a number
        [sys.executable, str(settings.BASE_DIR / "manage.py"), "import_job", str(job.pk)],
        stdin=subprocess.DEVNULL,
        stdout=subprocess.DEVNULL,
        stderr=subprocess.DEVNULL,
        start_new_session=True,  # it goes on when the worker that began it is renewed
        env={**os.environ, "SECRET_KEY": settings.SECRET_KEY},
    )
    ImportJob.objects.filter(pk=job.pk).update(pid=process.pid)


def work(job: ImportJob) -> None:
    """Do a waiting job; whoever comes second finds it taken and does nothing."""
    claimed = ImportJob.objects.filter(pk=job.pk, state=ImportJob.WAITING)
    if not claimed.update(state=ImportJob.AT_WORK, pid=os.getpid()):
        return
    try:
        facts = _DONE_BY[job.what](job)
    except NotImported as error:
        faults = [list(fault) for fault in error.faults]
        facts = {"reason": str(error), "faults": faults, "fault_count": error.count}
    except NotASheet as error:
        facts = {"reason": str(error)}
    except OSError as error:
        facts = {"reason": f"A file cannot be written or read here: {error.strerror}. Nothing was written."}
    state = ImportJob.STOPPED if "reason" in facts else ImportJob.DONE
    ImportJob.objects.filter(pk=job.pk).update(ended_at=timezone.now(), state=state, **facts)
    _tidy(job, state)


def _tidy(job: ImportJob, state: str) -> None:
    """Remove what a job that has ended needs no more: a sheet that was stopped is matched and read again."""
    if state == (ImportJob.DONE if job.what == ImportJob.SHEET else ImportJob.STOPPED) or job.what == ImportJob.YEAR:
        file_of(job).unlink(missing_ok=True)
    _told(job).unlink(missing_ok=True)


def _import(job: ImportJob) -> dict[str, Any]:
    result = import_file(
        file_of(job),
        ZoneInfo(job.workshop.book.zone),
        lambda: job.workshop,
        progress=lambda done, total: _tell(job, done, total),
    )
    return {"lines_total": result.rows, "lines_done": result.rows, "lines_new": result.entries_new}


def _sheet(job: ImportJob) -> dict[str, Any]:
    matching = Matching.of(job.matching)
    sheet = opened(file_of(job), matching.sheet)
    headers = headers_of(sheet, matching.head)
    result, told = import_sheet(
        sheet,
        headers,
        matching,
        job.workshop,
        str(job.started_by),
        progress=lambda done, total: _tell(job, done, total),
    )
    rows = {"lines_total": result.rows, "lines_done": result.rows, "lines_new": result.entries_new}
    remember(job.workshop, headers, replace(matching, people={**matching.people, **told.people}))
    return {**rows, "told": asdict(told)}


def _export(job: ImportJob) -> dict[str, Any]:
    pictures = bool(job.matching.get("pictures"))
    rows = give(
        job.workshop,
        file_of(job),
        pictures=pictures,
        progress=lambda done, total: _tell(job, done, total),
    )
    return {"lines_total": rows, "lines_done": rows}


_DONE_BY: dict[str, Callable[[ImportJob], dict[str, Any]]] = {
    ImportJob.YEAR: _import,
    ImportJob.SHEET: _sheet,
    ImportJob.EXPORT: _export,
}


def ready(job: ImportJob) -> Path | None:
    """Return the file of an export that is done, while it lies ready; one of an older day is removed."""
    path = file_of(job)
    if job.what != ImportJob.EXPORT or job.state != ImportJob.DONE or job.ended_at is None:
        return None
    if timezone.now() - job.ended_at > KEPT_FOR:
        path.unlink(missing_ok=True)
    return path if path.is_file() else None


def remove_old() -> None:
    """Remove what was exported more than a day ago and sheets that nobody went on with, whoever asked for them."""
    old = ImportJob.objects.filter(what=ImportJob.SHEET, started_at__lt=timezone.now() - SHEET_KEPT_FOR)
    for job in old.filter(state__in=(ImportJob.TO_MATCH, ImportJob.STOPPED)).exclude(reason=PUT_AWAY):
        file_of(job).unlink(missing_ok=True)
        ImportJob.objects.filter(pk=job.pk).update(state=ImportJob.STOPPED, reason=PUT_AWAY)
    for job in ImportJob.objects.filter(what=ImportJob.EXPORT, state=ImportJob.DONE).order_by("-pk")[:100]:
        ready(job)


def _tell(job: ImportJob, done: int, total: int) -> None:
    told = _told(job)
    beside = told.with_suffix(".new")
    beside.write_text(json.dumps([done, total]))
    beside.replace(told)


def look(job: ImportJob) -> Progress:
    """Return how far a job is; one whose process is gone becomes *stopped* first."""
    if job.state in (ImportJob.WAITING, ImportJob.AT_WORK) and _is_gone(job):
        said = {ImportJob.EXPORT: GONE_EXPORT, ImportJob.SHEET: GONE_SHEET}.get(job.what, GONE)
        unfinished = ImportJob.objects.filter(pk=job.pk, state__in=(ImportJob.WAITING, ImportJob.AT_WORK))
        unfinished.update(state=ImportJob.STOPPED, reason=said, ended_at=timezone.now())
        _tidy(job, ImportJob.STOPPED)
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
