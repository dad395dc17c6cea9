"""Codes that people read off a label or a paper and type: their alphabet and check character; digests. Pure."""

import hashlib

ALPHABET = "0123456789ABCDEFGHJKMNPQRSTVWXYZ"  # without I, L, O, U


def check_character(body: str) -> str:
    """Return the check character of a code's first characters: odd weights, modulo 32.

    Any one wrong character of `body` changes it. Raises ``ValueError`` for a character outside the alphabet.
    """
    total = sum((2 * place + 1) * ALPHABET.index(char) for place, char in enumerate(body))
    return ALPHABET[total % len(ALPHABET)]


def digest_of(content: bytes) -> str:
    """Return the SHA-256 of what is kept, in hexadecimal digits."""
    return hashlib.sha256(content).hexdigest()


def label_address(origin: str, label: str) -> str:
    """Return the address that a cylinder's label bears, in capitals: they make a smaller code.

    `origin` is where the pages are reached, such as ``https://book.lan``.
    """
    return f"{origin.rstrip('/')}/C/{label}".upper()
