"""``manage.py verify``: recompute the books, look at every issued document and photo, name what is wrong.

With witnesses, also whether a book still is what they saw.
"""

import re
from argparse import ArgumentParser
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from cryptography.hazmat.primitives.serialization import Encoding
from django.core.management.base import BaseCommand, CommandError, OutputWrapper

from compliance.documents import alone, seals, verifying
from compliance.documents.verifying import LEAST_DIGITS, Answer
from compliance.models import Document
from inventory.acts import dropping
from inventory.book import audit, changed, guards, stamp
from inventory.book import witness as witnesses
from inventory.book.audit import Fault
from inventory.book.witness import Witness
from inventory.models import Book, Entry
from inventory.shelf import photos


class Command(BaseCommand):
    help = (
        "Recompute the digests and holdings of every book and look at every issued document and photo; ends with 1 and "
        "the first wrong row where one is wrong. With --document: ends with 0 where that is an issued, untouched "
        "document whose lines stand. With --witness: ends with 1 where a book is shorter than, or other than, what the "
        "witness saw."
    )
    requires_system_checks = ()  # a book can be proved while other parts are being put right

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--book", help="name of the one book to verify; all books without it")
        parser.add_argument("--database", default="default", help="which database of the settings to read")
        parser.add_argument("--document", metavar="FILE|CODE", help="the one document to verify, with its whole book")
        parser.add_argument(
            "--since",
            metavar="HEAD",
            help="only what is new since LINE:DIGEST or DIGEST, as a paper or a witness has it",
        )
        parser.add_argument(
            "--certificate",
            metavar="FILE",
            help="prove the document by the workshop's certificate alone, without a book",
        )
        parser.add_argument(
            "--witness", action="append", default=[], metavar="FILE", help="made by the command witness; more than once"
        )
        parser.add_argument(
            "--authority", metavar="FILE", help="certificates that the time stamp beside a witness must follow from"
        )

    def handle(
        self,
        *args: Any,
        book: str | None,
        database: str,
        document: str | None,
        since: str | None,
        witness: list[str],
        **options: Any,
    ) -> None:
        if options["certificate"]:
            self._alone(document or "", options["certificate"])
            return
        seen = [(_seen(name), _stamped(name, options["authority"])) for name in witness]
        with audit.workers(database) as self.pool, audit.snapshot(database):
            if document is not None:
                self._document(document, database)
                return
            if since is not None:
                self._since(since, self._books(book, database), database)
                return
            off = _guards_off(database)
            books = self._books(book, database)
            if not books:
                self.stdout.write("There is no book yet.")
            for one in books:
                for fault in self._faults(one, database):
                    raise CommandError(f"{one.name}, {fault}.{off}")
                self._say(one, database)
            for told, stamped in seen:
                self._compare(told, database, books)
                self.stdout.write(stamped, ending="")
            if off:
                raise CommandError(f"No row is wrong, yet rows could be changed.{off} manage.py migrate puts it back.")

    def _say(self, book: Book, database: str) -> None:
        count = audit.count(book, database)
        self.stdout.write(
            f"{book.name}: {count.entries} lines with {count.movements} movements and {count.weighings} "
            f"weighings are as they were written; head {book.head_seq}, {book.head_digest[:16] or 'empty'}."
        )
        if issued := Document.objects.using(database).filter(workshop__book=book).count():
            documents = "document is" if issued == 1 else "documents are"
            self.stdout.write(f"{book.name}: {issued} {documents} as issued.")

    def _alone(self, document: str, certificate: str) -> None:
        """Verify a file where its book is not."""
        try:
            told = alone.tell(Path(document).read_bytes(), alone.read_certificates(Path(certificate).read_bytes()))
        except OSError as error:
            raise CommandError(f"{error.filename} cannot be read: {error.strerror}.") from None
        except ValueError:
            raise CommandError(f"{certificate} holds no certificate.") from None
        for sentence in told.sentences:
            self.stdout.write(sentence)
        if not told.stands:
            raise CommandError("It is not a paper that was issued with this certificate and is whole since.")

    def _compare(self, seen: Witness, database: str, proved: list[Book]) -> None:
        found = witnesses.book_of(seen, database)
        if found is None:
            raise CommandError(
                f"The witness of {seen.day} saw the book {seen.book}. No book here has that name or that line: "
                "it is not here, or another was put up in its place."
            )
        for fault in witnesses.faults(seen, found, database):
            raise CommandError(f"{found.name}, {fault}.")
        for fault in self._faults(found, database) if found not in proved else ():
            raise CommandError(f"{found.name}, {fault}.")
        self.stdout.write(f"{found.name}: still is the book that was seen on {seen.day} with line {seen.line}.")

    def _document(self, named: str, database: str) -> None:
        answer = _answer(named, database)
        for sentence in _sentences(answer):
            self.stdout.write(sentence)
        if answer.document is not None:
            owner = Document.objects.using(database).get(code=answer.document.code).workshop.book
            for fault in self._faults(owner, database):
                raise CommandError(f"The book is not what was written: {owner.name}, {fault}.{_guards_off(database)}")
            self.stdout.write(f"The whole book {owner.name} is as it was written.")
        if not answer.stands:
            raise CommandError("It is not an issued, untouched document whose lines all stand.")

    def _since(self, head: str, books: list[Book], database: str) -> None:
        found, line = _line_of(head, books, database)
        for fault in self._faults(found, database, line):
            raise CommandError(f"{found.name}, {fault}.{_guards_off(database)}")
        count = audit.count(found, database, line)
        self.stdout.write(
            f"{found.name}: {count.entries} lines with {count.movements} movements and {count.weighings} weighings, "
            f"written since line {line}, are as they were written; head {found.head_seq}, {found.head_digest[:16]}."
        )
        self.stdout.write(
            f"{found.name}: since that line its history of records has gone on by "
            f"{changed.states_since(found, line, database)}; each state follows from the one before, and every record "
            "is as it was written last."
        )
        self.stdout.write(
            f"Line {line} has the digest that was given; of the lines up to it only the masses were added up."
        )
        if off := _guards_off(database):
            raise CommandError(f"No row is wrong, yet rows could be changed.{off} manage.py migrate puts it back.")

    def _faults(self, book: Book, database: str, since: int = 0) -> Iterator[Fault]:
        yield from audit.faults(book, database, since=since, pool=self.pool, tell=_Told(self.stderr, book.name))
        yield from seals.faults(book, database, since)
        yield from photos.faults(book, database, since)
        yield from dropping.faults(book, database)
        yield from changed.faults(book, database, since)

    def _books(self, name: str | None, database: str) -> list[Book]:
        books = Book.objects.using(database).order_by("name")
        if name is None:
            return list(books)
        if not (found := list(books.filter(name=name))):
            known = ", ".join(books.values_list("name", flat=True)) or "none"
            raise CommandError(f"There is no book named {name!r}. The books here: {known}.")
        return found


class _Told:
    """Says how far the proof of a long book is, at every tenth of it."""

    def __init__(self, out: OutputWrapper, name: str) -> None:
        self.out, self.name, self.tenths = out, name, 0

    def __call__(self, done: int, lines: int) -> None:
        if lines >= audit.LONG and (tenths := done * 10 // lines) > self.tenths:
            self.tenths = tenths
            self.out.write(f"{self.name}: {done} of {lines} lines are read.", style_func=str)


def _line_of(head: str, books: list[Book], database: str) -> tuple[Book, int]:
    """Return the book and the number of the line whose digest a paper or a witness has."""
    number, _, digest = "".join(head.lower().split()).rpartition(":")
    if not re.fullmatch(rf"[0-9a-f]{{{LEAST_DIGITS},64}}", digest) or not re.fullmatch(r"\d*", number):
        raise CommandError(f"A head is LINE:DIGEST or DIGEST, of {LEAST_DIGITS} to 64 digits; {head!r} is none.")
    lines = Entry.objects.using(database).filter(book__in=books, digest__startswith=digest)
    found = (lines.filter(seq=number) if number else lines).select_related("book").first()
    if found is None:
        raise CommandError(
            f"No line of a book here has the digest {head}: it is of another book, or the book was written anew."
        )
    return found.book, int(found.seq)


def _seen(name: str) -> Witness:
    try:
        return witnesses.read(Path(name).read_text(encoding="utf-8"))
    except (OSError, ValueError) as error:
        raise CommandError(f"{name}: {error.strerror if isinstance(error, OSError) else error}") from None


def _stamped(name: str, authority: str | None) -> str:
    """Return what the time stamp beside a witness says, as lines; nothing where there is none."""
    token = stamp.beside(Path(name))
    if not token.is_file():
        if authority:
            raise CommandError(f"{name}: there is no time stamp beside it, {token.name}.")
        return ""
    try:
        roots = alone.read_certificates(Path(authority).read_bytes()) if authority else []
        der = [one.public_bytes(Encoding.DER) for one in roots]
        told = stamp.told(Path(name).read_bytes(), token.read_bytes(), der)
    except OSError as error:
        raise CommandError(f"{error.filename} cannot be read: {error.strerror}.") from None
    except ValueError:
        raise CommandError(f"{authority} holds no certificate.") from None
    except stamp.NoStamp as error:
        raise CommandError(f"{token}: {error}.") from None
    whose = "" if authority else " Whether it is theirs, who knows that certificate can say: give it by --authority."
    return f"It was stamped {told.words}.{whose}\n"


def _guards_off(database: str) -> str:
    return "".join(f" The guard {name} is not in the database." for name in guards.missing(database)[:1])


def _answer(named: str, database: str) -> Answer:
    path = Path(named)
    if path.is_file():
        return verifying.check_file(path.read_bytes(), using=database)
    if path.suffix or len(path.parts) > 1:
        raise CommandError(f"There is no file {named}.")
    return verifying.check_code(named, using=database)


def _sentences(answer: Answer) -> Iterator[str]:
    yield answer.sentence
    known = answer.document
    if known is None:
        return
    yield f"It is no. {known.number}, {known.kind}, of {known.issued_on.isoformat()}, {known.workshop}, {known.code}."
    yield from (f"{name}: {value}" for name, value in known.figures)
    if known.replaced_by:
        yield f"It was replaced by no. {known.replaced_by}."
    if answer.signature:
        yield answer.signature
    yield from answer.faults
    yield from map(str, answer.changes)
    if answer.more_changes:
        yield f"And {answer.more_changes} more changes."
