"""What an invented hand types, as a form sends it; and the codes on its labels."""

from uuid import UUID, uuid5

from inventory.measure.codes import ALPHABET, check_character


def rows(text: str) -> list[dict[str, str]]:
    """Return readings as a form sends them, from ``0 min, 250 psi, 22 C; 20 min, 251 psi, 23 C``."""
    parts = [[part.strip() for part in row.split(",")] for row in text.split(";")]
    return [dict(zip(("time", "pressure", "temperature"), row, strict=False)) for row in parts]


def label(name: str, root: UUID) -> str:
    """Return a label code for a cylinder of an invented book, the same in every run."""
    number = uuid5(root, name).int
    body = "".join(ALPHABET[number >> (5 * place) & 31] for place in range(5))
    return body + check_character(body)
