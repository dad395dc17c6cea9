"""What a code or a file is: a document that this server's books issued, untouched or not, or none.

With it stands what was written in the book since, and touches what it rests on.

Answers show kind, number, days, masses and the workshop whose document it is, never a person's name or a plate.
"""

import json
import re
import subprocess
import sys
from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import date, datetime
from pathlib import Path
from typing import Any, cast
from uuid import UUID
from zoneinfo import ZoneInfo

from django.db.models import Q, QuerySet

from compliance.documents.alone import signature_in
from compliance.documents.codes import MistypedCode, codes_in, read_code
from compliance.documents.seals import document_faults, line_of
from compliance.documents.shown import shown_figures
from compliance.models import Document
from compliance.statement.period import named_days
from inventory import causes
from inventory.measure.codes import digest_of
from inventory.measure.own import Units
from inventory.models import Book, Entry, Movement

ISSUED, ALTERED, UNKNOWN, OTHER_BOOK, MISTYPED, NO_DOCUMENT = (
    "issued",
    "not the file that was issued",
    "no such document",
    "of another book",
    "not a code",
    "no document",
)
LISTED = 50  # changes that an answer names one by one
PATIENCE_S = 20  # with a file from elsewhere
LEAST_DIGITS = 16  # of a digest, as printed
_UID = re.compile(r"[0-9a-f]{8}-[0-9a-f]{4}-[0-9a-f]{4}-[0-9a-f]{4}-[0-9a-f]{12}")


@dataclass(frozen=True)
class Change:
    """Something written since the document was issued that touches what it rests on; `line` wrote it."""

    line: int
    day: date
    words: str

    def __str__(self) -> str:
        return f"{self.words} (line {self.line}, {self.day.isoformat()})."


@dataclass(frozen=True)
class Known:
    """An issued document as a stranger may see it."""

    number: int
    kind: str
    workshop: str
    code: str
    issued_on: date
    units: Units  # of the workshop that issued it
    pages: int
    line: int
    digest: str
    figures: tuple[tuple[str, str], ...]
    replaces: int | None
    replaced_by: int | None
    replaced_on: date | None


@dataclass(frozen=True)
class Answer:
    """What a code or a file is. `faults` are of what was kept; `changes` came later, in the open."""

    verdict: str
    sentence: str
    document: Known | None = None
    changes: tuple[Change, ...] = ()
    more_changes: int = 0
    faults: tuple[str, ...] = ()
    compared: str = ""  # what the digest that was typed from the paper says
    agrees: bool = True  # whether that digest is the book's
    signature: str = ""  # what the signature in a file says

    @property
    def stands(self) -> bool:
        """Whether it is an issued, untouched document and the lines it rests on stand."""
        return self.verdict == ISSUED and self.agrees and not self.changes and not self.faults


def check_code(typed: str, *, digest: str = "", using: str = "default") -> Answer:
    """Say what a typed code is; `digest` is what is printed on the paper beside "line N", where it was typed too."""
    try:
        code = read_code(typed)
    except MistypedCode as error:
        return Answer(MISTYPED, str(error))
    document = _documents(using).filter(code=code).first()
    if document is None:
        return Answer(UNKNOWN, "No document with this code was issued by a book kept here.")
    return _compared(document, answer_of(document), digest)


def check_file(content: bytes, *, digest: str = "", using: str = "default") -> Answer:
    """Say whether a file is one that was issued, byte for byte, and if not whose code it carries; and its signature."""
    answer = _file_answer(content, digest, using)
    return replace(answer, signature=_signature_words(content, answer))


def _signature_words(content: bytes, answer: Answer) -> str:
    """Return what a file's signature says: of whose key, and whether the file is whole since."""
    signed = signature_in(content) if content.lstrip()[:5].startswith(b"%PDF-") else None
    if signed is None:
        return "The file bears no signature." if answer.document else ""
    if not signed.intact:
        return "The file bears a signature that is broken: it was changed after it was signed."
    key = f"the key {signed.fingerprint[:16]}, in the name of {signed.by}"
    return f"The file is whole since it was signed by {key}."


def _file_answer(content: bytes, digest: str, using: str) -> Answer:
    given = digest_of(content)
    documents = _documents(using)
    if (document := documents.filter(Q(file_digest=given) | Q(content_digest=given)).first()) is not None:
        words = f"{_issued_words(document)} The file is the one that was issued, byte for byte."
        return _compared(document, _answer(document, ISSUED, words), digest)
    text = text_of(content)
    codes = list(codes_in(text))
    for code in codes:
        if (document := documents.filter(code=code).first()) is not None:
            words = (
                f"The file carries the code of no. {document.number} but is not the file that was issued. "
                "Compare it with these figures."
            )
            return _compared(document, _answer(document, ALTERED, words), digest)
    return _stranger(text, bool(codes), using)


def answer_of(document: Document) -> Answer:
    """Say how an issued document stands today."""
    return _answer(document, ISSUED, _issued_words(document))


def compare_line(line: int, digest: str, *, using: str = "default") -> tuple[bool, str]:
    """Return whether a book kept here has the printed `digest` at `line`, and the sentence that says so."""
    typed, wrong = _read_digest(digest)
    if wrong:
        return False, wrong
    for seq_digest in Entry.objects.using(using).filter(seq=line).values_list("digest", flat=True):
        if str(seq_digest).startswith(typed):
            return True, f"Line {line} of a book kept here has this digest still."
    return False, (
        f"No book kept here has this digest at line {line}: the paper is of another book, or the book was written anew."
    )


def text_of(content: bytes) -> str:
    """Return the text of the first and last pages of a PDF; empty where it cannot be read as one, soon and in bounds.

    Anybody may send one: it is read in a process of its own, which ends where it takes too long or too much.
    """
    if not content.lstrip()[:5].startswith(b"%PDF-"):
        return ""
    reader = [sys.executable, str(Path(__file__).with_name("pdftext.py"))]
    try:
        read = subprocess.run(reader, input=content, capture_output=True, timeout=PATIENCE_S, check=False)  # noqa: S603
    except subprocess.TimeoutExpired:
        return ""
    return read.stdout.decode(errors="replace") if read.returncode == 0 else ""


def _documents(using: str) -> QuerySet[Document]:
    return Document.objects.using(using).select_related("entry", "workshop__book")


def _issued_words(document: Document) -> str:
    return f"Issued as no. {document.number}, {document.kind}, on {_day(document, document.issued_at).isoformat()}."


def _answer(document: Document, verdict: str, sentence: str) -> Answer:
    changes = changes_of(document)
    said = tuple(f"{words[0].upper()}{words[1:]}." for words in document_faults(document))
    return Answer(
        verdict=verdict,
        sentence=sentence,
        document=_known(document),
        changes=changes[:LISTED],
        more_changes=max(len(changes) - LISTED, 0),
        faults=said,
    )


def _known(document: Document) -> Known:
    later = Document.objects.using(document._state.db).filter(replaces=document).only("number", "issued_at").first()
    return Known(
        number=document.number,
        kind=document.kind,
        workshop=document.workshop.name,
        code=document.code,
        issued_on=_day(document, document.issued_at),
        units=document.workshop.units,
        pages=document.pages,
        line=document.head_seq,
        digest=document.head_digest[:LEAST_DIGITS],
        figures=shown_figures(content_of(document).get("figures", {}), document.workshop.units.column),
        replaces=document.replaces.number if document.replaces else None,
        replaced_by=later.number if later else None,
        replaced_on=_day(document, later.issued_at) if later else None,
    )


def content_of(document: Document) -> Mapping[str, Any]:
    """Return what is kept of a document; nothing where it was changed to what is no content."""
    try:
        found = json.loads(document.content)
    except ValueError:
        return {}
    return found if isinstance(found, dict) else {}


def _day(document: Document, moment: datetime) -> date:
    return moment.astimezone(ZoneInfo(document.workshop.zone)).date()


def _compared(document: Document, answer: Answer, digest: str) -> Answer:
    """Add what the digest typed from the paper says, against the book's line that the document carries."""
    if not digest.strip():
        return answer
    typed, wrong = _read_digest(digest)
    if wrong:
        return replace(answer, compared=wrong, agrees=False)
    line = line_of(document.workshop.book, document.head_seq)
    if line is not None and line.digest.startswith(typed):
        return replace(answer, compared=f"The digest typed is that of line {line.seq} of the book today.")
    words = (
        f"The digest typed is not that of line {document.head_seq} of the book: the paper was altered, or the book was "
        "written anew since."
    )
    return replace(answer, compared=words, agrees=False)


def _read_digest(typed: str) -> tuple[str, str]:
    text = re.sub(r"\s", "", typed).lower()
    if not re.fullmatch(r"[0-9a-f]+", text):
        return "", "What was typed is not a digest: it is made of 0 to 9 and a to f."
    if not LEAST_DIGITS <= len(text) <= 64:
        return "", f"A digest is printed with {LEAST_DIGITS} digits; this has {len(text)}."
    return text, ""


def _stranger(text: str, has_code: bool, using: str) -> Answer:
    """Answer for a file that carries no code of a document kept here."""
    named = {UUID(found) for found in _UID.findall(text)}
    here = set(Book.objects.using(using).filter(uid__in=named).values_list("uid", flat=True))
    if has_code and named and not here:
        return Answer(OTHER_BOOK, "It carries the code of a document of another book, which is not kept here.")
    if has_code and here:
        return Answer(UNKNOWN, "It names a book kept here, yet no document with its code was issued from that book.")
    if has_code:
        return Answer(UNKNOWN, "No document with the code that it carries was issued by a book kept here.")
    return Answer(NO_DOCUMENT, "It is no document issued by a book kept here, and no check code can be read in it.")


def changes_of(document: Document) -> tuple[Change, ...]:
    """Return what was written since and touches the lines on which a document rests, in the order of the book."""
    book = document.workshop.book
    rests = _rests_on(document)
    reversed_since = rests.filter(reversal__seq__gt=document.head_seq)
    found = [
        Change(by, day, f"Line {seq}, on which it rests, was reversed")
        for seq, by, day in reversed_since.values_list("seq", "reversal__seq", "reversal__booked_on")
    ]
    explained = Movement.objects.using(document._state.db).filter(
        book=book, explains__entry__in=rests, entry__seq__gt=document.head_seq, reversal=False
    )
    for seq, by, day, cause in explained.values_list("explains__entry__seq", "entry__seq", "booked_on", "cause"):
        words = causes.CAUSES[cause].words if cause in causes.CAUSES else cause
        found.append(Change(by, day, f"The difference of line {seq} was followed by: {words}"))
    if (period := named_days(document.about)) is not None:
        written = _lines(document).filter(seq__gt=document.head_seq, booked_on__range=period[:2])
        rows = written.exclude(kind__in=(Entry.SEAL, Entry.CLOSE)).exclude(seq__in={change.line for change in found})
        words = "A line was written for its period since"
        found += [Change(seq, day, words) for seq, day in rows.values_list("seq", "booked_on")]
    return tuple(sorted(set(found), key=lambda change: (change.line, change.words)))


def _lines(document: Document) -> QuerySet[Entry]:
    return Entry.objects.using(document._state.db).filter(book=document.workshop.book)


def _rests_on(document: Document) -> QuerySet[Entry]:
    """Return the lines on which a document rests: those it names, and of a period all that counted for it."""
    named = Q(seq__in=cast("list[int]", document.lines))
    if (period := named_days(document.about)) is not None:
        named |= Q(booked_on__range=period[:2], seq__lte=document.head_seq)
    return _lines(document).filter(named)
