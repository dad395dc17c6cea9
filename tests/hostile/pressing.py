"""Pressing what a page reads back: only then does an act write. At times as no browser would: twice, or forged."""

import random
import re
from collections.abc import Iterator
from html import unescape
from typing import Any
from uuid import uuid4

from tests.hostile.values import HOSTILE
from tests.hostile.visitor import File, Sent

READ_BACK = re.compile(r"<form\b[^>]*method=\"post\"[^>]*>(?:(?!</form>).)*name=\"read_back\".*?</form>", re.DOTALL)
HIDDEN = re.compile(r"<input\b[^>]*type=\"hidden\"[^>]*\bname=\"([^\"]+)\"[^>]*")
VALUE = re.compile(r"\bvalue=\"([^\"]*)\"")
MOST = 3  # read-back pages in a row: the facts of a book may change meanwhile


def read_back_of(answer: Any) -> Sent:
    """Return what the button of a page that reads back sends, nothing where an answer is none."""
    found = READ_BACK.search(answer.body.decode(errors="replace")) if answer.status == 200 else None
    if found is None:
        return []
    values = ((unescape(one[1]), VALUE.findall(one[0])) for one in HIDDEN.finditer(found[0]))
    return [(name, unescape(value[0]) if value else "") for name, value in values if name != "csrfmiddlewaretoken"]


def pressed(visitor: Any, at: str, first: Any, files: list[File], chance: random.Random) -> Iterator[tuple[Sent, Any]]:
    """Press what is read back, as long as it is read back anew; yield what was sent each time, and what answers."""
    answer = first
    for _ in range(MOST):
        sent = read_back_of(answer)
        if not sent:
            return
        for once in _as_pressed(sent, chance):
            answer = visitor.send(at, once, files)
            yield once, answer


def _as_pressed(sent: Sent, chance: random.Random) -> Iterator[Sent]:
    what = chance.random()
    if what < 0.05:  # what was never read back
        yield [(name, "0" * 64 if name == "read_back" else value) for name, value in sent]
    elif what < 0.1:  # something else than was read back
        other = chance.choice([name for name, _ in sent])
        yield [(name, chance.choice(HOSTILE) if name == other else value) for name, value in sent]
    elif what < 0.13:
        yield [(name, str(uuid4()) if name == "key" else value) for name, value in sent]
    yield sent
    if what > 0.9:  # impatient
        yield sent
