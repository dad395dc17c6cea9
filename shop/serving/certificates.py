"""A certificate authority of the machine's own, and its certificate for the names the pages are served under. Pure
but for the files.

The authority is made once: phones trust it by hand, so it stays as long as it can. Whoever got hold of its key could
otherwise pretend to be any site; so the authority itself says for what it may speak: this machine, addresses and names
of private networks, and what was named when it was made (RFC 5280, 4.2.1.10). The certificate of the server is made
anew when its names change or it runs out.
"""

import os
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from ipaddress import ip_address, ip_network
from pathlib import Path

from cryptography import x509
from cryptography.exceptions import InvalidSignature
from cryptography.hazmat.primitives import hashes, serialization
from cryptography.hazmat.primitives.asymmetric.ec import SECP256R1, EllipticCurvePrivateKey, generate_private_key
from cryptography.x509.oid import ExtendedKeyUsageOID, NameOID

AUTHORITY_LASTS = timedelta(days=3650)
SERVER_LASTS = timedelta(days=800)  # phones take none that lasts longer than 825 days
RENEWED_BEFORE = timedelta(days=90)
CLOCKS_DIFFER = timedelta(days=1)
PRIVATE_NETS = (
    *("10.0.0.0/8", "172.16.0.0/12", "192.168.0.0/16", "169.254.0.0/16", "127.0.0.0/8"),
    *("fc00::/7", "fe80::/10", "::1/128"),
)
PRIVATE_NAMES = ("localhost", "local", "lan", "internal", "home.arpa")


@dataclass(frozen=True)
class Made:
    """Where certificates and the server's key lie, and which of them were made just now."""

    authority: Path
    certificate: Path
    key: Path
    new_authority: bool
    new_certificate: bool


def certified(beside: str, machine: str, names: Iterable[str], *, now: datetime | None = None) -> Made:
    """Have a certificate for `names` (host names and addresses) in files whose names begin with `beside`.

    What stands there is kept where it still holds. The files are for this account alone.
    """
    now = now or datetime.now(UTC)
    wanted = frozenset(_name(one) for one in names)
    made_authority = made_certificate = False
    authority = _read(_file(beside, "authority.crt"), _file(beside, "authority.key"), now)
    if authority is None or not all(_may_speak_for(authority.certificate, one) for one in wanted):
        authority = _make_authority(machine, wanted, now)
        _write(beside, "authority", authority)
        made_authority = True
    server = _read(_file(beside, "https.crt"), _file(beside, "https.key"), now)
    if server is None or _names_of(server.certificate) != wanted or not _is_by(server.certificate, authority):
        server = _make_server(authority, wanted, now)
        _write(beside, "https", server)
        made_certificate = True
    return Made(
        authority=_file(beside, "authority.crt"),
        certificate=_file(beside, "https.crt"),
        key=_file(beside, "https.key"),
        new_authority=made_authority,
        new_certificate=made_certificate,
    )


@dataclass(frozen=True)
class _Pair:
    certificate: x509.Certificate
    key: EllipticCurvePrivateKey


def _file(beside: str, name: str) -> Path:
    return Path(f"{beside}-{name}")


def _read(certificate: Path, key: Path, now: datetime) -> _Pair | None:
    """Return what two files hold; None where they are not there, do not belong together or run out soon."""
    try:
        found = x509.load_pem_x509_certificate(certificate.read_bytes())
        secret = serialization.load_pem_private_key(key.read_bytes(), password=None)
    except (OSError, ValueError):
        return None
    if not isinstance(secret, EllipticCurvePrivateKey) or found.public_key() != secret.public_key():
        return None
    in_time = found.not_valid_before_utc <= now < found.not_valid_after_utc - RENEWED_BEFORE
    return _Pair(found, secret) if in_time else None


def _write(beside: str, name: str, pair: _Pair) -> None:
    """Write the key, then the certificate: half of it written is made anew at the next start."""
    secret = pair.key.private_bytes(
        serialization.Encoding.PEM, serialization.PrivateFormat.PKCS8, serialization.NoEncryption()
    )
    shown = pair.certificate.public_bytes(serialization.Encoding.PEM)
    for ending, content in (("key", secret), ("crt", shown)):
        _file(beside, f"{name}.{ending}").unlink(missing_ok=True)  # whoever might read the one before
        handle = os.open(_file(beside, f"{name}.{ending}"), os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
        with os.fdopen(handle, "wb") as file:
            file.write(content)


def _make_authority(machine: str, wanted: frozenset[x509.GeneralName], now: datetime) -> _Pair:
    key = generate_private_key(SECP256R1())
    name = _called(f"Tarebook on {machine}, {now:%Y-%m-%d}"[:64])
    builder = (
        _begun(name, name, key, now, AUTHORITY_LASTS)
        .add_extension(x509.BasicConstraints(ca=True, path_length=0), critical=True)
        .add_extension(_usage(signs=True), critical=True)
        .add_extension(x509.NameConstraints(sorted(_spoken_for(wanted), key=repr), None), critical=True)
        .add_extension(x509.AuthorityKeyIdentifier.from_issuer_public_key(key.public_key()), critical=False)
    )
    return _Pair(builder.sign(key, hashes.SHA256()), key)


def _make_server(authority: _Pair, wanted: frozenset[x509.GeneralName], now: datetime) -> _Pair:
    key = generate_private_key(SECP256R1())
    lasts = min(SERVER_LASTS, authority.certificate.not_valid_after_utc - now)
    issuer = authority.key.public_key()
    builder = (
        _begun(_called("Tarebook"), authority.certificate.subject, key, now, lasts)
        .add_extension(x509.BasicConstraints(ca=False, path_length=None), critical=True)
        .add_extension(_usage(signs=False), critical=True)
        .add_extension(x509.ExtendedKeyUsage([ExtendedKeyUsageOID.SERVER_AUTH]), critical=False)
        .add_extension(x509.SubjectAlternativeName(sorted(wanted, key=repr)), critical=False)
        .add_extension(x509.AuthorityKeyIdentifier.from_issuer_public_key(issuer), critical=False)
    )
    return _Pair(builder.sign(authority.key, hashes.SHA256()), key)


def _begun(
    name: x509.Name, issuer: x509.Name, key: EllipticCurvePrivateKey, now: datetime, lasts: timedelta
) -> x509.CertificateBuilder:
    return (
        x509.CertificateBuilder()
        .subject_name(name)
        .issuer_name(issuer)
        .public_key(key.public_key())
        .serial_number(x509.random_serial_number())
        .not_valid_before(now - CLOCKS_DIFFER)
        .not_valid_after(now + lasts)
        .add_extension(x509.SubjectKeyIdentifier.from_public_key(key.public_key()), critical=False)
    )


def _usage(*, signs: bool) -> x509.KeyUsage:
    others = ("content_commitment", "key_encipherment", "data_encipherment", "key_agreement")
    never = dict.fromkeys((*others, "encipher_only", "decipher_only"), False)
    return x509.KeyUsage(digital_signature=not signs, key_cert_sign=signs, crl_sign=signs, **never)


def _called(name: str) -> x509.Name:
    return x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, name)])


def _name(text: str) -> x509.GeneralName:
    """Return a host name or an address as certificates have it."""
    plain = text.strip("[]").lower()
    try:
        return x509.IPAddress(ip_address(plain))
    except ValueError:
        return x509.DNSName(plain)


def _spoken_for(wanted: frozenset[x509.GeneralName]) -> set[x509.GeneralName]:
    """Return what an authority may speak for: private networks, and what is wanted besides."""
    private: set[x509.GeneralName] = {x509.IPAddress(ip_network(net)) for net in PRIVATE_NETS}
    private |= {x509.DNSName(name) for name in PRIVATE_NAMES}
    besides = (one for one in wanted if not any(_lies_in(one, net) for net in private))
    return private | {
        x509.IPAddress(ip_network(one.value)) if isinstance(one, x509.IPAddress) else one for one in besides
    }


def _may_speak_for(authority: x509.Certificate, one: x509.GeneralName) -> bool:
    try:
        limits = authority.extensions.get_extension_for_class(x509.NameConstraints).value
    except x509.ExtensionNotFound:
        return False
    return any(_lies_in(one, net) for net in limits.permitted_subtrees or ())


def _lies_in(one: x509.GeneralName, whole: x509.GeneralName) -> bool:
    if isinstance(one, x509.IPAddress) and isinstance(whole, x509.IPAddress):
        return one.value in whole.value  # type: ignore[operator] # what constrains is a network
    if isinstance(one, x509.DNSName) and isinstance(whole, x509.DNSName):
        return one.value == whole.value or one.value.endswith(f".{whole.value}")
    return False


def _names_of(certificate: x509.Certificate) -> frozenset[x509.GeneralName]:
    try:
        return frozenset(certificate.extensions.get_extension_for_class(x509.SubjectAlternativeName).value)
    except x509.ExtensionNotFound:
        return frozenset()


def _is_by(certificate: x509.Certificate, authority: _Pair) -> bool:
    try:
        certificate.verify_directly_issued_by(authority.certificate)
    except (InvalidSignature, ValueError, TypeError):
        return False
    return True
