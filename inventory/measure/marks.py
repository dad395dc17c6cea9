"""How plates, serials, VINs, paper numbers and names are compared. Pure.

Two writings name one thing where their `mark` is the same: case, spaces and signs do not count, and letters of another
alphabet that look like Latin ones count as those. Where only the `likeness` is the same (0 and O, 1 and I), one may
have been misread for the other, and a person is asked.
"""

import unicodedata

LONGEST = 120  # characters of a likeness; what follows is not looked at

# Greek and Cyrillic letters whose capitals look like Latin ones, after case folding, and the Turkish dotless i.
_TWINS = str.maketrans(
    "αβεζηικμνορτυχавекмнорстухіјѕьӏı",
    "abezhikmnoptyxabekmhopctyxijsbii",
)
# What is taken for one another when it is read off a plate or written by hand; common practice, no source.
_MISREAD = str.maketrans("oqilsbz", "0011582")


def mark(text: str) -> str:
    """Return what counts of `text` when two are compared: letters and digits, small, in one alphabet.

    Of a text without any (such as "?") it is the text itself without spaces.
    """
    plain = unicodedata.normalize("NFKC", unicodedata.normalize("NFKC", text).casefold())
    kept = "".join(_digit(char) for char in plain if unicodedata.category(char)[0] in "LNM")
    return kept.translate(_TWINS) or "".join(plain.split())


def likeness(text: str) -> str:
    """Return the key that two texts share where one may be a misreading of the other; accents do not count."""
    letters = unicodedata.normalize("NFKD", mark(text))
    return "".join(char for char in letters if not unicodedata.combining(char)).translate(_MISREAD)[:LONGEST]


def same(one: str, other: str) -> bool:
    """Whether two texts name one thing; nothing names nothing."""
    return bool(mark(one)) and mark(one) == mark(other)


def _digit(char: str) -> str:
    value = unicodedata.decimal(char, None)
    return char if value is None else str(value)
