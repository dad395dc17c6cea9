"""A trusted time beside a witness: a token of RFC 3161, by which an authority of time says that it saw them then.

A witness names its own day, by the clock of a server that its holder can set. A token is signed by somebody else, over
the SHA-256 of the witness's file, and holds nothing of what is in it. pyHanko asks for it and proves it.

NoStamp    there is none to be had, or what is there is none of these bytes; the text is a sentence
"""

import asyncio
import hashlib
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import Any
from urllib.parse import urlsplit

SUFFIX, PATIENCE_S, MOST = ".tst", 20, 100_000  # of a token's bytes


class NoStamp(Exception):
    """No time stamp, or one of something else; the text is a sentence for the person."""


@dataclass(frozen=True)
class Stamp:
    """What a token says: when, and by whom in whose certificate's words, which anybody can choose."""

    at: datetime
    by: str
    fingerprint: str

    @property
    def words(self) -> str:
        return f"{self.at:%Y-%m-%d %H:%M:%S} UTC by {self.by}, SHA-256 {self.fingerprint}"


def beside(path: Path) -> Path:
    """Return where the token of a witness's file is kept."""
    return path.with_name(f"{path.name}{SUFFIX}")


def asked(content: bytes, url: str) -> bytes:
    """Return the token that an authority of time gives for some bytes; raises NoStamp."""
    from pyhanko.sign.timestamps import HTTPTimeStamper, TimestampRequestError

    if urlsplit(url).scheme not in ("http", "https"):
        raise NoStamp(f"{url} is no address of a time stamp: it begins with https:// or http://.")
    stamper = HTTPTimeStamper(url, timeout=PATIENCE_S)
    try:
        answer = asyncio.run(stamper.async_timestamp(hashlib.sha256(content).digest(), "sha256"))
        token = bytes(answer.dump())
    except TimestampRequestError as error:
        if error.__cause__ is None:
            raise NoStamp(f"{url} gives no time stamp for this: {error}.") from None
        raise NoStamp(f"{url} cannot be reached, or does not speak of time.") from None
    except Exception:  # noqa: BLE001 - an answer of another machine may break the reader in any way
        raise NoStamp(f"{url} answered with what is no time stamp.") from None
    told(content, token)
    return token


def told(content: bytes, token: bytes, authorities: Sequence[bytes] = ()) -> Stamp:
    """Return what a token says of some bytes, and by whom; raises NoStamp.

    `authorities`: DER certificates that it must follow from. Without them its own is believed, and is to be looked at.
    """
    try:
        status = _proved(content, token[:MOST], authorities)
        certificate = status.signing_cert
        purposes = certificate.extended_key_usage_value
        stamp = Stamp(status.timestamp.astimezone(UTC), certificate.subject.human_friendly, certificate.sha256.hex())
    except Exception:  # noqa: BLE001 - a stranger's file may break the reader in any way
        raise NoStamp("it is no time stamp that can be read") from None
    if not (status.intact and status.valid):
        raise NoStamp("it is of another file, or was changed")
    if purposes is None or "time_stamping" not in purposes.native:
        raise NoStamp(f"it is signed by a certificate that is not for time stamps: {stamp.words}")
    if authorities and not status.trusted:
        raise NoStamp(f"it follows from none of the certificates that were given: {stamp.words}")
    return stamp


def _proved(content: bytes, token: bytes, authorities: Sequence[bytes]) -> Any:
    from asn1crypto import cms, x509
    from pyhanko.sign.validation.generic_cms import validate_tst_signed_data
    from pyhanko.sign.validation.status import TimestampSignatureStatus
    from pyhanko_certvalidator import ValidationContext

    signed = cms.ContentInfo.load(token, strict=True)["content"]
    own = [one.chosen for one in signed["certificates"]]
    roots = [x509.Certificate.load(one) for one in authorities] or own
    at = signed["encap_content_info"]["content"].parsed["gen_time"].native
    context = ValidationContext(trust_roots=roots, other_certs=own, moment=at, allow_fetching=False)
    proving = validate_tst_signed_data(signed, context, lambda kind: hashlib.new(kind, content).digest())
    return TimestampSignatureStatus(**asyncio.run(proving))
