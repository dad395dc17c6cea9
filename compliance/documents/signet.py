"""The workshop's own key, with which every paper is signed as it is issued, and the certificates that belong to it.

The key is made when the first paper is issued and lies beside the database, for the server's account alone; where
TAREBOOK_PAPER_PASSPHRASE is set it is kept enciphered by it. A key that was replaced is destroyed, its certificate is
kept. Nothing of what was issued is lost with a key: papers keep their signature, and the next one is signed by a new
key, whose certificate has to be made known again.

NoKey    the key cannot be made, kept or read; the text is a sentence
"""

import io
import os
import secrets
from dataclasses import dataclass
from datetime import timedelta
from pathlib import Path

from cryptography import x509
from cryptography.hazmat.primitives import hashes, serialization
from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.x509.oid import ExtendedKeyUsageOID, NameOID
from django.conf import settings
from django.utils import timezone

from inventory.models import Book
from shop.keeping.databases import own_url
from shop.serving import machine

FIELD = "Workshop"  # what the signature is called in the file
YEARS = 30  # papers outlive their workshop's machines
PEM, PLAIN = serialization.Encoding.PEM, serialization.NoEncryption()


class NoKey(Exception):
    """A key that is not to be had; the text is a sentence for the person."""


@dataclass(frozen=True)
class Signet:
    """A private key with its certificate."""

    key: ec.EllipticCurvePrivateKey
    certificate: x509.Certificate

    @property
    def fingerprint(self) -> str:
        return fingerprint_of(self.certificate)


def fingerprint_of(certificate: x509.Certificate) -> str:
    """Return the SHA-256 of a certificate in groups of four digits."""
    digits = certificate.fingerprint(hashes.SHA256()).hex()
    return " ".join(digits[at : at + 4] for at in range(0, len(digits), 4))


def signet_of(book: Book) -> Signet:
    """Return the key of a book's workshop, made where there is none yet. Raises NoKey."""
    path = _path(book)
    try:
        if not path.exists():
            _make(book, path)
        content = path.read_bytes()
        key = serialization.load_pem_private_key(content, settings.PAPER_PASSPHRASE or None)
        certificate = x509.load_pem_x509_certificate(content)
    except OSError as error:
        raise NoKey(f"The key that signs papers cannot be kept at {path}: {error.strerror}.") from None
    except (ValueError, TypeError):
        raise NoKey(
            f"The key that signs papers cannot be read at {path}: is TAREBOOK_PAPER_PASSPHRASE right?"
        ) from None
    if not isinstance(key, ec.EllipticCurvePrivateKey):
        raise NoKey(f"{path} holds a key of another kind than signs papers.")
    return Signet(key, certificate)


def renew(book: Book) -> Signet:
    """Sign with a new key from now on; the certificate of the one before is kept, and the key itself is not."""
    path = _path(book)
    if path.exists():
        certificate = x509.load_pem_x509_certificate(path.read_bytes())
        older = path.with_name(f"{path.stem}-{certificate.fingerprint(hashes.SHA256()).hex()[:8]}.crt")
        _write(older, certificate.public_bytes(PEM))
        path.unlink()
    return signet_of(book)


def certificates_of(book: Book) -> list[x509.Certificate]:
    """Return the certificates of a book's keys, that of the present one first."""
    path = _path(book)
    older = sorted(path.parent.glob(f"{path.stem}-*.crt"))
    return [x509.load_pem_x509_certificate(one.read_bytes()) for one in (path, *older) if one.exists()]


def signed(pdf: bytes, book: Book, number: int) -> bytes:
    """Return a paper with the workshop's signature over all of it, by PAdES (baseline B). Raises NoKey."""
    from asn1crypto import keys
    from asn1crypto import x509 as asn1_x509
    from pyhanko.pdf_utils.incremental_writer import IncrementalPdfFileWriter
    from pyhanko.sign import fields, signers
    from pyhanko_certvalidator.registry import SimpleCertificateStore

    signet = signet_of(book)
    der = serialization.Encoding.DER
    signer = signers.SimpleSigner(
        signing_cert=asn1_x509.Certificate.load(signet.certificate.public_bytes(der)),
        signing_key=keys.PrivateKeyInfo.load(signet.key.private_bytes(der, serialization.PrivateFormat.PKCS8, PLAIN)),
        cert_registry=SimpleCertificateStore(),  # type: ignore[no-untyped-call]
    )
    about = signers.PdfSignatureMetadata(
        field_name=FIELD,
        md_algorithm="sha256",
        subfilter=fields.SigSeedSubFilter.PADES,
        name=book.name,
        reason=f"Issued as no. {number}",
    )
    out: io.BytesIO = signers.sign_pdf(IncrementalPdfFileWriter(io.BytesIO(pdf)), about, signer=signer)
    return out.getvalue()


def _path(book: Book) -> Path:
    if settings.PAPER_KEYS is not None:
        return Path(settings.PAPER_KEYS) / f"papers-{book.uid}.pem"
    return Path(f"{machine.beside(own_url(), settings.BASE_DIR, 'run')}-papers-{book.uid}.pem")


def _make(book: Book, path: Path) -> None:
    key = ec.generate_private_key(ec.SECP256R1())
    name = x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, book.name[:64])])
    now = timezone.now()
    usage = x509.KeyUsage(True, True, False, False, False, False, False, False, False)
    certificate = (
        x509.CertificateBuilder()
        .subject_name(name)
        .issuer_name(name)
        .public_key(key.public_key())
        .serial_number(x509.random_serial_number())
        .not_valid_before(now - timedelta(days=1))
        .not_valid_after(now + timedelta(days=365 * YEARS))
        .add_extension(x509.BasicConstraints(ca=False, path_length=None), critical=True)
        .add_extension(usage, critical=True)
        .add_extension(x509.ExtendedKeyUsage([ExtendedKeyUsageOID.EMAIL_PROTECTION]), critical=False)
        .sign(key, hashes.SHA256())
    )
    word = settings.PAPER_PASSPHRASE
    how = serialization.BestAvailableEncryption(word) if word else PLAIN
    path.parent.mkdir(parents=True, exist_ok=True)
    _write(path, key.private_bytes(PEM, serialization.PrivateFormat.PKCS8, how) + certificate.public_bytes(PEM))


def _write(path: Path, content: bytes) -> None:
    """Write a file for this account alone, whole or not at all, where none stands; another's that came first stays."""
    part = path.with_name(f"{path.name}.{secrets.token_hex(8)}.part")
    handle = os.open(part, os.O_WRONLY | os.O_CREAT | os.O_TRUNC, 0o600)
    try:
        with os.fdopen(handle, "wb") as file:
            file.write(content)
            file.flush()
            os.fsync(file.fileno())
        os.link(part, path)
    except FileExistsError:
        pass
    finally:
        part.unlink(missing_ok=True)
