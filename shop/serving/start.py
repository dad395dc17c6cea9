"""The start of a server, in one process: what it needs is decided, kept, prepared and said; then it is gunicorn."""

import os
import secrets
import sys
from collections.abc import Mapping
from dataclasses import dataclass
from io import StringIO
from pathlib import Path
from typing import NoReturn

import segno

from inventory.measure.reach import host_of, stays_here
from shop.serving import machine
from shop.serving.certificates import Made, certified
from shop.serving.machine import EVERYWHERE, keep, kept
from shop.serving.trust import Authority

ROOT = Path(__file__).resolve().parents[2]
DEFAULTS = {"demo": "sqlite:///demo.sqlite3", "run": "sqlite:///tarebook.sqlite3"}
THIS_MACHINE = ("localhost", "127.0.0.1", "[::1]")


@dataclass(frozen=True)
class Plan:
    """What is served and where: `names` are those the machine answers to, `certified` those of its certificate."""

    kind: str
    url: str
    beside: str
    https: bool
    bind: str
    address: str
    names: tuple[str, ...]
    certified: tuple[str, ...]

    def file(self, name: str) -> Path:
        """Return the file of this name that is kept beside the database."""
        return Path(f"{self.beside}-{name}")


def planned(kind: str, environment: Mapping[str, str]) -> Plan:
    """Return what the environment asks for; ends with a sentence where that cannot be."""
    if kind not in DEFAULTS:
        sys.exit("Say .ci/serve demo or .ci/serve run.")
    https = environment.get("HTTPS") or "0"
    if https not in ("0", "1"):
        sys.exit(f"HTTPS is {https!r}; it must be 1 or 0.")
    host = environment.get("HOST") or ("0.0.0.0" if https == "1" else "127.0.0.1")  # noqa: S104 - asked for
    port, shown = environment.get("PORT") or "8000", f"[{host}]" if ":" in host else host
    if not (port.isdecimal() and machine.can_listen(host, int(port))):
        sys.exit(
            f"Nothing can be served on {shown}:{port}; another program may be using it. "
            f"Choose another port, such as PORT=8001 make {kind}."
        )
    own = machine.own_addresses() if host in EVERYWHERE else []
    called = machine.own_names() if host in EVERYWHERE else []
    given = [one for one in environment.get("ALLOWED_HOSTS", "").split(",") if one]
    names = [*given, *THIS_MACHINE, shown, *called, *map(_in_line, own)]
    best = _in_line(next(iter(own), "localhost")) if host in EVERYWHERE else shown
    address = f"{'https' if https == '1' else 'http'}://{best}:{port}"
    asked = host_of(environment.get("TAREBOOK_ADDRESS", ""))
    proved = [*given, asked, *THIS_MACHINE, *([] if host in EVERYWHERE else [host]), *called, *machine.lasting(own)]
    url = environment.get("DATABASE_URL") or DEFAULTS[kind]
    return Plan(
        kind=kind,
        url=url,
        beside=machine.beside(url, ROOT, kind),
        https=https == "1",
        bind=f"{shown}:{port}",
        address=address,
        names=tuple(dict.fromkeys(names)),
        certified=tuple(dict.fromkeys(one for one in proved if one and not one.startswith((".", "*")))),
    )


def _in_line(address: str) -> str:
    """Return an address as it stands in the line of a browser."""
    return f"[{address}]" if ":" in address else address


def environment_of(plan: Plan) -> dict[str, str]:
    """Return what the server's environment has beside what was given; nothing is written yet."""
    found = {
        "DJANGO_SETTINGS_MODULE": "shop.settings",
        "DATABASE_URL": plan.url,
        "DEBUG": "0",
        "ALLOWED_HOSTS": ",".join(plan.names),
        "TAREBOOK_ADDRESS": os.environ.get("TAREBOOK_ADDRESS") or plan.address,
        "SECRET_KEY": os.environ.get("SECRET_KEY") or kept(plan.file("secret-key")) or secrets.token_urlsafe(48),
    }
    if plan.https:
        found |= {"TAREBOOK_HTTPS": "1", "TAREBOOK_AUTHORITY": str(plan.file("authority.crt"))}
    if plan.kind == "demo":
        given = os.environ.get("TAREBOOK_DEMO_PASSWORD")
        found["TAREBOOK_DEMO_PASSWORD"] = given or kept(plan.file("password")) or secrets.token_urlsafe(9)
    return found


def start(kind: str) -> NoReturn:
    """Serve a book of this kind as the environment asks."""
    from shop.serving.faults import in_a_sentence  # it knows Django, which loads what the environment says

    os.umask(0o077)  # a book names people; its files are for this account alone
    plan = planned(kind, os.environ)
    found, given = environment_of(plan), dict(os.environ)
    os.environ.update(found)
    with in_a_sentence():
        _load()
        _keep(plan, found, given)
        made = certified(plan.beside, machine.own_names()[0], plan.certified) if plan.https else None
        _prepare(plan)
        _tell(plan, made)
        _close()
    os.execv(sys.executable, [sys.executable, *_server(plan, made)])  # noqa: S606 - this very Python


def _load() -> None:
    """Load Django: settings that cannot be are said before anything is written."""
    import django

    django.setup()


def _keep(plan: Plan, found: Mapping[str, str], given: Mapping[str, str]) -> None:
    """Keep what was made at random beside the database, so that a restart signs nobody out."""
    folder = Path(plan.beside).parent
    if plan.url.partition(":")[0] != "sqlite":
        folder.mkdir(exist_ok=True)
    if not os.access(folder, os.W_OK):
        sys.exit(f"{folder} is not a folder that can be written in; the database would stand there by DATABASE_URL.")
    for setting, name in (("SECRET_KEY", "secret-key"), ("TAREBOOK_DEMO_PASSWORD", "password")):
        if setting in found and not given.get(setting) and not kept(plan.file(name)):
            keep(plan.file(name), found[setting])


def _prepare(plan: Plan) -> None:
    """Bring the database to what it should be, and fill the demonstration.

    A server's account on PostgreSQL may own no table; then it must not touch what is already as it should be.
    """
    from django.core.management import CommandError, call_command
    from django.db import DatabaseError

    quiet = StringIO()
    try:
        call_command("migrate", check_unapplied=True, stdout=quiet, stderr=quiet)
        call_command("check", databases=["default"], fail_level="WARNING", stdout=quiet, stderr=quiet)
    except (SystemExit, CommandError, DatabaseError):
        call_command("migrate", verbosity=0)
    if plan.kind == "demo":
        try:
            call_command("demo_book")
        except CommandError as error:
            sys.exit(str(error))


def _tell(plan: Plan, made: Made | None) -> None:
    """Say where the pages are reached, by whom, and how one signs in."""
    from django.core.management import call_command

    reached = os.environ["TAREBOOK_ADDRESS"].rstrip("/")
    _say("", f"Tarebook: {plan.address}/")
    if stays_here(reached):
        _say(
            "Only this machine reaches that address, no phone. "
            f"HOST=0.0.0.0 make {plan.kind} serves the workshop's own net, make {plan.kind} HTTPS=1 does so over https."
        )
    else:
        _say(in_blocks(f"{reached}/"))
    if made is not None:
        _say(*_of_the_authority(reached, made))
    if plan.kind == "demo":
        password = os.environ["TAREBOOK_DEMO_PASSWORD"]
        _say(f"Sign in as owner, technician or reader. Password of all three: {password}")
        _say("Everything in this book is invented.")
    else:
        call_command("setup_code")
    _say("Control-C ends it.")


def _of_the_authority(reached: str, made: Made) -> list[str]:
    fresh = "It was made just now; a phone that trusted another one of this machine has to trust this one."
    return [
        f"A browser asks before it opens this address, until it trusts the authority of this machine: {reached}/trust/",
        "The SHA-256 of the authority's certificate is",
        *Authority.read(made.authority).sha256_lines,
        *([fresh] if made.new_authority else []),
    ]


def in_blocks(text: str) -> str:
    """Return a QR code as lines for a console, light on dark whatever its colours are."""
    out, code = StringIO(), segno.make(text, error="m", micro=False)
    compact = (sys.stdout.encoding or "").lower().startswith("utf")
    code.terminal(out, border=2, compact=compact)
    if not (compact and sys.stdout.isatty()):
        return out.getvalue().rstrip("\n")
    return "\n".join(f"\033[97;40m{line}\033[0m" for line in out.getvalue().splitlines())


def _say(*lines: str) -> None:
    sys.stdout.write("".join(f"{line}\n" for line in lines))
    sys.stdout.flush()


def _close() -> None:
    from django.db import connections

    connections.close_all()
    sys.stdout.flush()


def _server(plan: Plan, made: Made | None) -> list[str]:
    """Return the command of the server. Where it speaks https itself, no header of a front server is believed."""
    words = ["-m", "gunicorn", "shop.wsgi:loaded()", "--bind", plan.bind]
    words += ["--preload", "--worker-class", "shop.serving.worker.BufferingWorker", "--workers", "2", "--threads", "4"]
    words += ["--timeout", "0"]  # nobody waits for a sign of life: each request is read before it is answered
    words += ["--no-control-socket", "--log-level", "warning"]
    if made is not None:
        words += ["--certfile", str(made.certificate), "--keyfile", str(made.key), "--forwarded-allow-ips", ""]
    return words
