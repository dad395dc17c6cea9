"""Whether a paper is what a workshop issued, told from the file and the workshop's certificates alone. Knows no book.

What a file can prove: that somebody with the workshop's key signed it, that no byte was changed since, and that its
check code follows from the content that lies in it. What it cannot: whether the lines it rests on still stand; for
that the book is asked.
"""

import io
import json
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from cryptography import x509
from cryptography.hazmat.primitives import hashes, serialization

from compliance.documents.codes import codes_in, make_code
from compliance.papers.sheet import CONTENT
from inventory.measure.codes import digest_of

NOT_SIGNED = "It bears no signature of a workshop."
CHANGED = "It was changed after it was signed, or its signature is broken."


@dataclass(frozen=True)
class Signed:
    """What a file's signature says: by which certificate, and whether every byte is as it was signed."""

    certificate: x509.Certificate | None
    intact: bool
    content: str = ""

    @property
    def by(self) -> str:
        """The name in the certificate; anybody can make one of any name, so its fingerprint is what counts."""
        if self.certificate is None:
            return ""
        names = self.certificate.subject.get_attributes_for_oid(x509.NameOID.COMMON_NAME)
        return str(names[0].value) if names else "nobody named"

    @property
    def fingerprint(self) -> str:
        return self.certificate.fingerprint(hashes.SHA256()).hex() if self.certificate else ""


@dataclass(frozen=True)
class Told:
    """What a paper alone tells, in sentences."""

    stands: bool
    sentences: tuple[str, ...]


def signature_in(file: bytes) -> Signed | None:
    """Return what the signature of a PDF says; None where it bears none, or is no PDF that can be read."""
    from pyhanko.pdf_utils.reader import PdfFileReader
    from pyhanko.sign.validation import validate_pdf_signature
    from pyhanko.sign.validation.status import SignatureCoverageLevel
    from pyhanko_certvalidator import ValidationContext

    try:
        found = PdfFileReader(io.BytesIO(file)).embedded_signatures
        if not found:
            return None
        certificate = x509.load_der_x509_certificate(found[-1].signer_cert.dump())
        context = ValidationContext(trust_roots=[found[-1].signer_cert], allow_fetching=False)
        status = validate_pdf_signature(found[-1], context)
        whole = status.coverage == SignatureCoverageLevel.ENTIRE_FILE
        return Signed(certificate, bool(status.intact and status.valid and whole), _content_in(file))
    except Exception:  # noqa: BLE001 - a stranger's file may break the reader in any way
        return Signed(None, False) if b"/ByteRange" in file else None


def read_certificates(text: bytes) -> list[x509.Certificate]:
    """Return the certificates of a PEM file; raises ValueError."""
    return x509.load_pem_x509_certificates(text)


def tell(file: bytes, certificates: Sequence[x509.Certificate]) -> Told:
    """Say whether a file was issued by a workshop whose certificates these are, and is whole since."""
    signed = signature_in(file)
    if signed is None:
        return Told(False, (NOT_SIGNED,))
    if not signed.intact:
        return Told(False, (CHANGED,))
    der = serialization.Encoding.DER
    if signed.certificate is None or signed.certificate.public_bytes(der) not in [
        one.public_bytes(der) for one in certificates
    ]:
        return Told(
            False,
            (f"It is whole, but signed by another key, in the name of {signed.by}: {signed.fingerprint}.",),
        )
    return _of_content(signed, file)


def _of_content(signed: Signed, file: bytes) -> Told:
    """Say what the sealed content says, and whether the code follows from it."""
    try:
        content: dict[str, Any] = json.loads(signed.content)
        code = make_code(
            book_uid=content["book_uid"],
            number=content["number"],
            content_digest=digest_of(signed.content.encode()),
            head_digest=content["head_digest"],
        )
        said = [
            f"Signed by {signed.by}, and no byte was changed since.",
            f"It is no. {content['number']}, {content['document']}, of {content['issued_at'][:10]}, {code}.",
            f"Its book stood at line {content['head_line']}, {content['head_digest'][:16] or 'empty'}.",
            *(f"{name}: {value}" for name, value in sorted(content["figures"].items())),
        ]
    except (ValueError, KeyError, TypeError, AttributeError):
        return Told(False, ("It is signed by the workshop’s key, but what was sealed is not in it.",))
    if code not in codes_in(_text_of(file)):
        return Told(False, (*said, "The check code on its pages does not follow from what was sealed."))
    return Told(True, (*said, "Whether the lines that it rests on still stand, only the book can say."))


def _content_in(file: bytes) -> str:
    from pypdf import PdfReader

    found = PdfReader(io.BytesIO(file)).attachments.get(CONTENT, [])
    return found[0].decode() if found else ""


def _text_of(file: bytes) -> str:
    from pypdf import PdfReader

    return "\n".join(page.extract_text() for page in PdfReader(io.BytesIO(file)).pages)
