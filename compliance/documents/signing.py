"""Signing an issued paper on the screen: a record of its own, sealed by a line, that names the paper's digests.

A signature is a typed name, and where somebody drew it, its strokes in a field of 600 by 200. The signed copy is the
issued file with a page of signatures behind it; the issued file never changes.

    NoSignature     what was drawn cannot be read
    Refused         the paper cannot be signed now, or this form signed already
"""

import io
import json
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any
from uuid import UUID
from zoneinfo import ZoneInfo

from django.conf import settings
from django.db import transaction
from django.template.loader import render_to_string
from django.utils.safestring import SafeString

from compliance.documents.issuing import Refused, canonical
from compliance.documents.seals import context_of
from compliance.documents.verifying import content_of
from compliance.models import Document, Signature
from compliance.papers.sheet import fetch_nothing, page_style
from inventory.book import ledger
from inventory.measure.codes import digest_of
from inventory.models import Entry
from shop.models import User

WIDE, HIGH = 600, 200
MOST_POINTS = 6_000
FOR_WORKSHOP, FOR_CUSTOMER = "For the workshop", "For the customer"
Strokes = Sequence[Sequence[Sequence[int]]]


class NoSignature(ValueError):
    """What was drawn is no signature; the text is a sentence for the person."""


@dataclass(frozen=True)
class Signed:
    """A signature as it is shown."""

    name: str
    part: str
    when: str
    taken_by: str
    line: int
    drawing: SafeString


def parts_of(document: Document) -> list[str]:
    """Return for whom a paper may be signed: as it has lines for it, and for workshop and customer."""
    blocks = content_of(document).get("blocks", ())
    asked = [row for block in blocks if block.get("block") == "signatures" for row in block.get("rows", ())]
    return list(dict.fromkeys([*asked, FOR_WORKSHOP, FOR_CUSTOMER]))


def read_strokes(text: str) -> list[list[list[int]]]:
    """Return what was drawn as lists of points; empty where nothing was. Raises NoSignature."""
    if not text.strip():
        return []
    try:
        drawn = json.loads(text)
        strokes = [[[_within(x, WIDE), _within(y, HIGH)] for x, y in stroke] for stroke in drawn if stroke]
    except (TypeError, ValueError, RecursionError) as error:
        raise NoSignature(
            "What was drawn cannot be read. Draw it again, or leave it and let the name stand."
        ) from error
    if sum(map(len, strokes)) > MOST_POINTS:
        raise NoSignature("That is too much for a signature. Clear it and draw it again.")
    return strokes


def _within(value: Any, most: int) -> int:
    if isinstance(value, bool) or not isinstance(value, (int, float)) or not 0 <= value <= most:
        raise ValueError(value)
    return round(value)


def sign(
    document: Document, *, name: str, part: str, strokes: Strokes, by: User, key: UUID, now: datetime
) -> Signature:
    """Keep a signature once and return it; raises Refused, LedgerError."""
    content = canonical(
        {
            "signature_of": document.number,
            "paper": document.file_digest,
            "content": document.content_digest,
            "name": name,
            "part": part,
            "strokes": strokes,
            "signed_at": now.astimezone(ZoneInfo(document.workshop.zone)).isoformat(timespec="seconds"),
            "taken_by": str(by),
        }
    )
    with transaction.atomic():
        book = ledger.lock(document.workshop.book)
        if (known := Signature.objects.filter(request_key=key).first()) is not None:
            if (known.document_id, known.name, known.part) != (document.pk, name, part):
                raise Refused("This form signed already. Open the page again for another signature.")
            return known
        if later := Document.objects.filter(replaces=document).first():
            raise Refused(f"No. {document.number} was replaced by no. {later.number}: sign that one.")
        digest = digest_of(content.encode())
        act = ledger.Act(
            key=key,
            actor=by.handle,
            occurred_at=now,
            content={"sign": document.number, "digest": digest},
            context=context_of(document.number),
        )
        return Signature.objects.create(
            document=document,
            name=name,
            part=part,
            content=content,
            digest=digest,
            entry=ledger.write_locked(book, act, lambda draft: None, kind=Entry.SEAL, seals=digest),
            signed_at=now,
            taken_by=by,
            request_key=key,
        )


def shown_signatures(document: Document) -> list[Signed]:
    """Return the signatures of a paper as a page and its signed copy show them."""
    zone = ZoneInfo(document.workshop.zone)
    rows = document.signatures.select_related("taken_by", "entry")
    return [
        Signed(
            name=one.name,
            part=one.part,
            when=document.workshop.units.when_said(one.signed_at.astimezone(zone)),
            taken_by=str(one.taken_by),
            line=one.entry.seq,
            drawing=_drawn(json.loads(one.content).get("strokes", ()), one.name),
        )
        for one in rows
    ]


def _drawn(strokes: Strokes, name: str) -> SafeString:
    if not strokes:
        return SafeString("")
    paths = ["M" + "L".join(f"{x} {y}" for x, y in (*stroke, stroke[-1])) for stroke in strokes]
    return SafeString(render_to_string("compliance/_drawn.svg", {"paths": paths, "name": name}))


def signed_copy(document: Document) -> bytes:
    """Return the issued file with a page of its signatures behind it: another file, which says so."""
    from pypdf import PdfWriter  # imported when first needed
    from weasyprint import CSS, HTML

    context = {"document": document, "signatures": shown_signatures(document), "address": settings.ADDRESS}
    page = HTML(string=render_to_string("compliance/signatures.html", context), url_fetcher=fetch_nothing)
    styles = settings.BASE_DIR / "templates" / "compliance" / "sheet.css"
    behind = page.write_pdf(stylesheets=[CSS(filename=str(styles)), CSS(string=page_style(document.workshop.paper))])
    writer = PdfWriter()
    for part in (bytes(document.file), behind):
        writer.append(io.BytesIO(part))
    made = io.BytesIO()
    writer.write(made)
    return made.getvalue()
