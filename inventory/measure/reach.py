"""Who reaches an address: whether it leads away from the machine that it stands for. Pure."""

import socket
from ipaddress import IPv4Address, IPv6Address, ip_address
from urllib.parse import urlsplit


def host_of(address: str) -> str:
    """Return the name or number of the machine in an address such as ``http://127.0.0.1:8000/``, in small letters.

    Without brackets and without a dot at its end; empty where the address names none.
    """
    try:
        return (urlsplit(address.strip()).hostname or "").rstrip(".")
    except ValueError:  # brackets that do not close
        return ""


def stays_here(address: str) -> bool:
    """Whether no other machine reaches an address: loopback, every address at once, or none that can be read.

    Numbers are read as browsers read them: 127.1, 0x7f000001 and 2130706433 are 127.0.0.1 (RFC 6943, section 3.1.1);
    localhost and names below it are loopback (RFC 6761, section 6.3).
    """
    host = host_of(address)
    if not host or host == "localhost" or host.endswith(".localhost"):
        return True
    number = _number(host)
    if number is None:
        return False
    if isinstance(number, IPv6Address) and number.ipv4_mapped is not None:
        number = number.ipv4_mapped
    return number.is_loopback or number.is_unspecified


def is_number(address: str) -> bool:
    """Whether an address names its machine by a number, which a router may give to another one some day."""
    return _number(host_of(address)) is not None


def _number(host: str) -> IPv4Address | IPv6Address | None:
    try:
        return ip_address(host)
    except ValueError:
        pass
    try:
        return ip_address(socket.inet_aton(host))
    except (OSError, ValueError):
        return None
