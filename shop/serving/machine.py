"""What the machine is called and which addresses it has, where it can listen, and what is kept beside a database."""

import os
import shutil
import socket
import subprocess
from ipaddress import ip_address
from pathlib import Path

EVERYWHERE = ("0.0.0.0", "::")  # noqa: S104 - what these mean is judged here
HIGHEST_PORT = 65_535
NOWHERE = "192.0.2.1"  # kept for examples (RFC 5737); to ask for the way to it sends nothing


def can_listen(host: str, port: int) -> bool:
    """Whether a server can listen there."""
    if port > HIGHEST_PORT:
        return False
    try:
        family, *_, address = socket.getaddrinfo(host, port, type=socket.SOCK_STREAM)[0]
        socket.create_server((str(address[0]), port), family=family).close()
    except OSError:
        return False
    return True


def own_names() -> list[str]:
    """Return the names by which others may know this machine, such as ``bench`` and ``bench.local``."""
    name = socket.gethostname().lower()
    return [name] if "." in name else [name, f"{name}.local"]


def own_addresses() -> list[str]:
    """Return the addresses of this machine; the one by which others most likely reach it stands first."""
    lister = shutil.which("hostname")
    said = subprocess.run([lister, "-I"], capture_output=True, text=True, check=False).stdout if lister else ""  # noqa: S603
    found = [one for one in said.split() if not ip_address(one).is_link_local]
    return list(dict.fromkeys((*_outward(), *found)))


def lasting(addresses: list[str]) -> list[str]:
    """Return the addresses without those by which the world knows the machine for some days only."""
    return [one for one in addresses if ip_address(one).version == 4 or ip_address(one).is_private]


def _outward() -> list[str]:
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as way:
        try:
            way.connect((NOWHERE, 9))
        except OSError:  # the machine stands in no net
            return []
        return [str(way.getsockname()[0])]


def beside(url: str, root: Path, kind: str) -> str:
    """Return how the names of the files begin that are kept beside the database of an address."""
    path, _, _ = url.partition("?")
    if path.startswith("sqlite:///"):
        return str(root / path.removeprefix("sqlite:///"))
    return str(root / ".postgres" / kind)


def kept(file: Path) -> str:
    """Return the secret in a file; empty where there is none."""
    return file.read_text().strip() if file.exists() else ""


def keep(file: Path, secret: str) -> None:
    """Write a secret into a file for this account alone."""
    handle = os.open(file, os.O_WRONLY | os.O_CREAT | os.O_TRUNC, 0o600)
    with os.fdopen(handle, "w") as new:
        new.write(f"{secret}\n")
