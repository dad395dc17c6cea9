"""Issuing a document: read the record, print the sheet, write number and seal into the book. Kept as issued.

The record and the head of the book are read as one moment, and the sheet is printed, before the book is locked; then
one transaction takes the number and writes the line that seals content and file. If somebody took the number meanwhile
the sheet is printed again. What replaces what is said in the newer document; both remain.

    Refused     the document cannot be issued now, or this form issued another one
"""

import json
from dataclasses import replace
from datetime import date, datetime
from uuid import UUID
from zoneinfo import ZoneInfo

from django.db import transaction
from django.db.models import Max

from compliance.documents import signet
from compliance.documents.codes import make_code
from compliance.documents.seals import context_of, seal_of
from compliance.models import Document
from compliance.papers import sheet
from compliance.papers.builders import BUILDERS
from compliance.papers.paper import NothingToIssue, Paper, Stamp, as_data
from inventory.book import audit, ledger
from inventory.book.refusals import LedgerError
from inventory.measure.codes import digest_of
from inventory.models import Book, Entry
from inventory.output.stock import SHEETS
from shop.models import User, Workshop

TRIES = 5  # how often a sheet is printed again before the person is asked to press once more
ABOUT_LENGTH = 60


class Refused(LedgerError):
    """A document that is not issued; the text is a sentence for the person."""


def paper_of(workshop: Workshop, kind: str, about: str, *, today: date) -> Paper:
    """Return the paper of a record as it stands now; raises NothingToIssue."""
    builder = BUILDERS.get(kind)
    if builder is None:
        raise NothingToIssue(f"There is no document called {kind}.")
    paper = builder(workshop, about, today=today)
    if len(paper.about) > ABOUT_LENGTH:
        raise NothingToIssue("These are too many records for one document; issue several.")
    return replace(paper, size=workshop.paper) if paper.size in SHEETS else paper


def issue(workshop: Workshop, kind: str, about: str, *, by: User, key: UUID, now: datetime) -> Document:
    """Issue a document once and return it; the same `key` with the same request returns the one already there.

    An earlier document of the same kind and record is replaced by this one, and stays. Raises NothingToIssue, Refused.
    """
    for _ in range(TRIES):
        if (known := _known(workshop, kind, about, by, key)) is not None:
            return known
        document = _print(workshop, kind, about, by=by, now=now)
        if _write(document, about, key=key, now=now):
            return document
    raise Refused("Others are issuing documents at this moment. Nothing was issued; press again.")


def canonical(content: object) -> str:
    """Return content as the JSON that is kept and digested: sorted names, no spaces."""
    return json.dumps(content, ensure_ascii=False, sort_keys=True, separators=(",", ":"))


def _known(workshop: Workshop, kind: str, about: str, by: User, key: UUID) -> Document | None:
    found = Document.objects.filter(request_key=key).first()
    if found is None:
        return None
    asked = _request(kind, about)
    entry_digest = found.entry.request_digest
    if found.workshop_id != workshop.pk or entry_digest != _act(by, key, found.issued_at, found.number, asked).digest:
        raise Refused(f"This form issued no. {found.number} already. Open the page again to issue another document.")
    return found


def _request(kind: str, about: str) -> dict[str, str]:
    return {"issue": kind, "about": about}


def _act(by: User, key: UUID, now: datetime, number: int, request: dict[str, str]) -> ledger.Act:
    return ledger.Act(key=key, actor=by.handle, occurred_at=now, content=request, context=context_of(number))


def _print(workshop: Workshop, kind: str, about: str, *, by: User, now: datetime) -> Document:
    """Return a document that is ready to be written: nothing of it is in the database yet."""
    issued_at = now.astimezone(ZoneInfo(workshop.zone)).replace(microsecond=0)
    with audit.snapshot():
        book = Book.objects.get(pk=workshop.book_id)
        paper = paper_of(workshop, kind, about, today=issued_at.date())
        earlier = Document.objects.filter(workshop=workshop, kind=kind, about=paper.about).order_by("-number").first()
        number = _next_number(workshop)
    stamp = Stamp(
        number=number,
        issued_at=issued_at,
        issued_by=str(by),
        book=book.name,
        book_uid=str(book.uid),
        head_seq=book.head_seq,
        head_digest=book.head_digest,
        replaces=earlier.number if earlier else None,
        units=workshop.units,
    )
    content = canonical(as_data(paper, stamp))
    content_digest = digest_of(content.encode())
    code = make_code(
        book_uid=stamp.book_uid, number=number, content_digest=content_digest, head_digest=stamp.head_digest
    )
    printed = sheet.printed(paper, stamp, code, content)
    try:
        file = signet.signed(printed.pdf, book, number)
    except signet.NoKey as error:
        raise Refused(f"{error} Tell whoever runs this machine; nothing was issued.") from None
    return Document(
        workshop=workshop,
        number=number,
        kind=paper.kind,
        about=paper.about,
        title=paper.title,
        code=code,
        issued_at=issued_at,
        issued_by=by,
        content=content,
        content_digest=content_digest,
        file=file,
        file_digest=digest_of(file),
        pages=printed.pages,
        lines=list(paper.lines),
        head_seq=stamp.head_seq,
        head_digest=stamp.head_digest,
        replaces=earlier,
    )


def _next_number(workshop: Workshop) -> int:
    last = Document.objects.filter(workshop=workshop).aggregate(last=Max("number"))["last"] or 0
    return int(last) + 1


def _write(document: Document, asked: str, *, key: UUID, now: datetime) -> bool:
    """Write a document under the book's lock, `asked` as its record was asked for; False where its number is taken."""
    with transaction.atomic():
        book = ledger.lock(document.workshop.book)
        if _next_number(document.workshop) != document.number:
            return False
        document.request_key = key
        document.entry = ledger.write_locked(
            book,
            _act(document.issued_by, key, now, document.number, _request(document.kind, asked)),
            lambda draft: None,
            kind=Entry.SEAL,
            seals=seal_of(document.content_digest, document.file_digest),
        )
        document.save(force_insert=True)
    return True
