"""Everything that a book says, written into a folder, so that two states of the code can be compared by ``diff -r``.

``DATABASE_URL=sqlite:///$PWD/demo.sqlite3 python tests/benchmarks/same.py FOLDER``, on a book that `demo_book` filled.
Written are the digest of every line, what `verify` answers, the statement as JSON and CSV, the content and digests of
a document of every kind for every record that can have one, the findings, and every page that links lead to, for
owner, technician and reader. The clock stands still and the database stays as it was. A change that only moves code
shows no difference.
"""

import io
import os
import re
import sys
from collections.abc import Iterator
from datetime import UTC, datetime
from html import unescape
from pathlib import Path
from typing import Any
from urllib.parse import urldefrag, urljoin
from uuid import NAMESPACE_URL, uuid5

ROOT = Path(__file__).resolve().parent.parent.parent
sys.path.insert(0, str(ROOT))
os.environ.setdefault("DJANGO_SETTINGS_MODULE", "shop.settings")
os.environ.setdefault("SECRET_KEY", "the same on both sides")

import django  # noqa: E402

django.setup()

from django.core.management import call_command  # noqa: E402
from django.db import transaction  # noqa: E402
from django.test import Client  # noqa: E402
from django.utils import timezone  # noqa: E402

from compliance.documents.issuing import Refused, issue  # noqa: E402
from compliance.documents.subjects import choices_of  # noqa: E402
from compliance.models import Document, Finding  # noqa: E402
from compliance.papers.paper import NothingToIssue  # noqa: E402
from inventory.models import Cylinder, Entry  # noqa: E402
from shop.models import User, Visit, Workshop  # noqa: E402

NOW = datetime(2026, 1, 15, 12, tzinfo=UTC)
YEAR = ("2025-01-01", "2025-12-31")
# What differs from one reading of a page to the next: tokens, the request keys of forms, the minute of the machine.
EACH_TIME = re.compile(
    r"(csrf[^>]{0,40}?(?:value|content)=|X-CSRFToken[^>]{0,10}?)\W?\w{32,}|[0-9a-f]{8}-(?:[0-9a-f]{4}-){3}\w{12}"
    r'|(?<=class="today">)[^<]+|, printed [^<]+'
)
NO_PAGE = re.compile(r"(pdf|xlsx)($|/|&)|sign-out|/static/|second-factor|/qr")


def main(folder: Path) -> None:
    """Write what the one book of the database says into `folder`."""
    timezone.now = lambda: NOW
    with transaction.atomic():
        for name, text in _all(Workshop.objects.get()):
            path = folder / name
            path.parent.mkdir(parents=True, exist_ok=True)
            path.write_text(text)
        transaction.set_rollback(True)


def _all(workshop: Workshop) -> Iterator[tuple[str, str]]:
    yield "verify.txt", _said("verify")
    yield "lines.txt", "".join(f"{one.seq} {one.digest}\n" for one in Entry.objects.order_by("seq"))
    for form in ("json", "csv"):
        period = {"first": YEAR[0], "last": YEAR[1], "form": form}
        yield f"statement.{form}", _said("statement", book=workshop.book.name, **period)
    yield from _documents(workshop)
    for role in ("owner", "technician", "reader"):
        yield from _pages(workshop, role)
    said = ("rule", "about", "part", "state", "words", "way_out")
    found = Finding.objects.order_by(*said).values_list(*said)
    yield "findings.txt", "".join(f"{' | '.join(one)}\n" for one in found)


def _said(command: str, **options: str) -> str:
    out = io.StringIO()
    call_command(command, stdout=out, **options)
    return out.getvalue()


def _documents(workshop: Workshop) -> Iterator[tuple[str, str]]:
    """Issue whatever can be issued, in one order, and yield content and digests."""
    owner = User.objects.get(username="owner")
    abouts = [f"visit:{one}" for one in Visit.objects.order_by("number").values_list("number", flat=True)]
    abouts += [f"cylinder:{one}" for one in Cylinder.objects.order_by("account").values_list("account", flat=True)]
    abouts += [f"line:{one}" for one in Entry.objects.order_by("seq").values_list("seq", flat=True)]
    abouts += ["people:2025-12-31", f"period:{YEAR[0]}:{YEAR[1]}"]
    for about in abouts:
        for choice in choices_of(about, today=NOW.date(), consigned=True):
            name = f"documents/{choice.kind} {choice.about}.txt".replace(":", " ")
            key = uuid5(NAMESPACE_URL, f"{choice.kind} {choice.about}")
            try:
                made: Document = issue(workshop, choice.kind, choice.about, by=owner, key=key, now=NOW)
            except (NothingToIssue, Refused) as why:
                yield name, f"{why}\n"
            else:
                yield name, f"{made.number} {made.code} {made.content_digest} {made.entry.digest}\n{made.content}\n"


def _pages(workshop: Workshop, role: str) -> Iterator[tuple[str, str]]:
    client = Client(headers={"host": "localhost"})
    client.force_login(User.objects.get(username=role))
    waiting, seen = [f"/w/{workshop.slug}/", "/"], set()
    while waiting:
        address = waiting.pop(0)
        if address in seen or NO_PAGE.search(address) or address.count("=") > 2:
            continue
        seen.add(address)
        answer: Any = client.get(address)
        body = b"".join(answer.streaming_content) if answer.streaming else answer.content
        text = EACH_TIME.sub("...", body.decode(errors="replace"))
        name = re.sub(r"[^\w.=-]+", "_", address).strip("_") or "root"
        yield f"{role}/{name[:180]}.txt", f"{answer.status_code} {answer.headers.get('Location', '')}\n{text}"
        if "html" in answer.headers.get("Content-Type", ""):
            found = re.findall(r'(?:href|action|hx-get)="([^"#]+)"', text)
            addresses = [urldefrag(urljoin(address, unescape(one)))[0] for one in found]
            waiting += [one for one in addresses if one.startswith("/")]


if __name__ == "__main__":
    main(Path(sys.argv[1]))
