"""What seals a document in the book, and whether document, seal and line still agree.

Looked at are the document, its seal and the line of the book that it carries; the whole chain is proved by
``manage.py verify`` alone, since that reads every line.
"""

import json
from collections.abc import Iterator

from compliance.documents.codes import make_code
from compliance.models import Document
from inventory.book.audit import Fault
from inventory.book.chain import standing_digest
from inventory.measure.codes import digest_of
from inventory.models import Book, Entry


def seal_of(content_digest: str, file_digest: str) -> str:
    """Return what the line of the book holds of a document."""
    return digest_of(f"{content_digest}:{file_digest}".encode("ascii"))


def context_of(number: int | str) -> str:
    """Return how the line of the book names the document."""
    return f"document:{number}"


def faults(book: Book, using: str = "default", since: int = 0) -> Iterator[Fault]:
    """Yield what is wrong with the documents issued after a line of a book: content, file, seal, head, code."""
    documents = (
        Document.objects.using(using)
        .filter(workshop__book=book, entry__seq__gt=since)
        .select_related("entry", "workshop__book")
    )
    for document in documents.order_by("number").iterator(chunk_size=20):
        for words in document_faults(document):
            yield Fault(f"document no. {document.number}", words)
    sealing = Entry.objects.using(using).filter(book=book, kind=Entry.SEAL, context__startswith=context_of(""))
    lost = sealing.filter(document__isnull=True, signature__isnull=True).order_by("seq")
    for seq, context in lost.values_list("seq", "context"):
        yield Fault(f"document no. {context.partition(':')[2]}", f"is not here; line {seq} of the book seals it")


def document_faults(document: Document) -> Iterator[str]:
    """Yield what is wrong with one document, each in words that follow "document no. 12:"."""
    book = document.workshop.book
    if digest_of(document.content.encode()) != document.content_digest:
        yield "its content is not what was issued"
    if digest_of(bytes(document.file)) != document.file_digest:
        yield "its file is not what was issued"
    yield from _seal_faults(document, book)
    yield from _signature_faults(document)
    head = line_of(book, document.head_seq)
    if document.head_seq and (head is None or head.digest != document.head_digest):
        yield f"line {document.head_seq} of the book has not the digest any more that the paper carries"
    elif head is not None and not _follows(book, head):
        yield f"line {document.head_seq} of the book, which the paper names, is not what was written"
    expected = make_code(
        book_uid=str(book.uid),
        number=document.number,
        content_digest=document.content_digest,
        head_digest=document.head_digest,
    )
    if expected != document.code:
        yield "its code does not follow from what is kept of it"


def _seal_faults(document: Document, book: Book) -> Iterator[str]:
    entry = document.entry
    if entry.book_id != book.pk or entry.kind != Entry.SEAL or entry.context != context_of(document.number):
        yield f"line {entry.seq} of the book does not seal it"
    elif entry.seals != seal_of(document.content_digest, document.file_digest):
        yield f"line {entry.seq} of the book seals something else"
    elif not _follows(book, entry):
        yield f"line {entry.seq} of the book, which seals it, does not stand in the chain"


def _signature_faults(document: Document) -> Iterator[str]:
    for one in document.signatures.select_related("entry"):
        if digest_of(one.content.encode()) != one.digest:
            yield f"the signature of line {one.entry.seq} is not what was given"
            continue
        kept = json.loads(one.content)
        if (kept["name"], kept["part"]) != (one.name, one.part):
            yield f"the signature of line {one.entry.seq} bears another name than was given"
        elif one.entry.seals != one.digest or one.entry.context != context_of(document.number):
            yield f"line {one.entry.seq} of the book does not seal its signature"
        elif kept.get("paper") != document.file_digest:
            yield f"the signature of line {one.entry.seq} is of another paper"


def line_of(book: Book, seq: int) -> Entry | None:
    """Return a line of a book by its number."""
    return Entry.objects.using(book._state.db).filter(book=book, seq=seq).first()


def _follows(book: Book, entry: Entry) -> bool:
    """Whether the digest of one line follows from the line before it and from what stands in it."""
    before = line_of(book, entry.seq - 1)
    return standing_digest(book, before.digest if before else "", entry) == entry.digest
