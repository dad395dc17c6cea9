"""The certificate authority of the machine that serves the pages, as phones are to trust it. Pure but for its file."""

import ssl
from dataclasses import dataclass
from pathlib import Path

from inventory.measure.codes import digest_of

PAIRS_ON_A_LINE = 8


@dataclass(frozen=True)
class Authority:
    """A certificate as its bytes (DER)."""

    content: bytes

    @classmethod
    def read(cls, file: Path) -> "Authority":
        """Return what a file holds (PEM). Raises ``OSError`` or ``ValueError`` where that is no certificate."""
        return cls(ssl.PEM_cert_to_DER_cert(file.read_text()))

    @property
    def sha256_lines(self) -> list[str]:
        """Return its SHA-256 as phones show it, pairs of digits with colons, in lines of eight pairs."""
        digits = digest_of(self.content).upper()
        pairs = [digits[place : place + 2] for place in range(0, len(digits), 2)]
        lines = [pairs[place : place + PAIRS_ON_A_LINE] for place in range(0, len(pairs), PAIRS_ON_A_LINE)]
        return [":".join(line) for line in lines]
