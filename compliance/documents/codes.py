"""The check code of a document: twelve characters that a person can type, made from what was issued. Pure.

Eleven characters come from a SHA-256 over the book's own name, the document's number, the digest of its content and the
digest of the book's head; the twelfth is a check character, so that a slip of one character is told from a code that
nobody issued. The number is in it and the file is not: it can be printed in the file.

MistypedCode    what was typed cannot be a code at all
"""

import hashlib
import re
from collections.abc import Iterator

from inventory.measure.codes import ALPHABET, check_character

BODY = 11
_READ_AS = str.maketrans({"O": "0", "I": "1", "L": "1"})
_PRINTED = re.compile(r"(?<![0-9A-Z-])[0-9A-HJKMNP-TV-Z]{4}(?:-[0-9A-HJKMNP-TV-Z]{4}){2}(?![0-9A-Z-])")


class MistypedCode(ValueError):
    """What was typed is not a code; the text is a sentence for the person."""


def make_code(*, book_uid: str, number: int, content_digest: str, head_digest: str) -> str:
    """Return the code of a document as it is printed: ``XXXX-XXXX-XXXX``."""
    facts = "\n".join([book_uid, str(number), content_digest, head_digest])
    rest = int.from_bytes(hashlib.sha256(facts.encode("ascii")).digest(), "big")
    body = ""
    for _ in range(BODY):
        rest, place = divmod(rest, len(ALPHABET))
        body += ALPHABET[place]
    return in_groups(body + check_character(body))


def read_code(typed: str) -> str:
    """Return what was typed as the code is printed: any case, with or without dashes and spaces, O as 0, I and L as 1.

    Raises MistypedCode where it has another length, a character that is in no code, or a slip in one character.
    """
    text = re.sub(r"[\s\-\u2010-\u2015]", "", typed).upper().translate(_READ_AS)
    if strange := next((char for char in text if char not in ALPHABET), ""):
        raise MistypedCode(f"This is not a code: {strange} is in none.")
    if len(text) != BODY + 1:
        raise MistypedCode(f"This is not a code: one has {BODY + 1} characters, this has {len(text)}.")
    if check_character(text[:BODY]) != text[BODY]:
        raise MistypedCode("This is not a code: one character is wrong.")
    return in_groups(text)


def in_groups(text: str) -> str:
    """Return a code in its three groups."""
    return "-".join(text[at : at + 4] for at in range(0, len(text), 4))


def codes_in(text: str) -> Iterator[str]:
    """Yield the codes that stand in a text as they are printed, each once."""
    seen: set[str] = set()
    for found in _PRINTED.findall(text):
        if found not in seen and check_character(found.replace("-", "")[:BODY]) == found[-1]:
            seen.add(found)
            yield found
