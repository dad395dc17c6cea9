"""Every address and form of a running server, asked by everybody with hostile values: ``make crawl``.

First the owner walks from link to link, so that what exists is known by name, and every form with its fields. Then each
in turn asks: whoever has not signed in, a stranger with a workshop of their own, a reader, a technician, the owner.
After each the rows of the database are compared, and `verify` reads the book: nothing half-written, no row of a
stranger, no act above the role. No answer may be a fault of the server. The seed of what is sent is printed.
"""

import argparse
import os
import random
import re
import subprocess
import sys
import tempfile
import time
from collections import Counter
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager
from dataclasses import dataclass, field
from html import unescape
from pathlib import Path
from socket import create_connection, create_server
from typing import Any
from urllib.parse import parse_qsl, quote, unquote_plus, urlencode, urlsplit
from uuid import uuid4

ROOT = Path(__file__).resolve().parents[2]
WHO = {"anybody": "", "stranger": "stranger", "reader": "reader", "technician": "technician", "owner": "owner"}
SHARES = {"anybody": 0.15, "stranger": 0.2, "reader": 0.2, "technician": 0.25, "owner": 0.2}
THREADS = 6
OF_ONE_ROUTE = 3  # addresses
HEAVY = {"document-issue", "statement-file", "document-page", "cylinder-labels", "bay-sheet", "year-file"}
STARTS_WORK = {"export", "import", "import-match", "import-rest", "close-year"}  # a process of its own each time
LINK = re.compile(r'(?:href|action|hx-get|hx-post)="(/[^"]*)"')
A_FORM = re.compile(r"<form\b([^>]*)>(.*?)</form>", re.DOTALL)
INPUT = re.compile(r"<(?:input|select|textarea|button)\b[^>]*\bname=\"([^\"]+)\"[^>]*")
VALUE = re.compile(r"\bvalue=\"([^\"]*)\"")
SELECT = re.compile(r"<select\b[^>]*\bname=\"([^\"]+)\"(.*?)</select>", re.DOTALL)
IS_FILE = re.compile(r'type="file"')


@dataclass(frozen=True)
class Place:
    """An address that exists, with the fields of its form and what the page itself would send."""

    route: str
    at: str
    fields: tuple[str, ...] = ()
    files: tuple[str, ...] = ()
    values: dict[str, list[str]] = field(default_factory=dict, hash=False)


@dataclass(frozen=True)
class Aim:
    """What is attacked: a workshop on a server, and what of it nobody else may read."""

    port: int
    slug: str
    places: list[Place]
    marks: list[str]


@dataclass
class Told:
    """What came of it."""

    asked: Counter[str] = field(default_factory=Counter)
    answers: Counter[tuple[str, int]] = field(default_factory=Counter)
    routes: set[str] = field(default_factory=set)
    wrong: list[str] = field(default_factory=list)
    written: dict[str, int] = field(default_factory=dict)


def route_of(at: str) -> str:
    from django.urls import Resolver404, resolve

    try:
        return str(resolve(urlsplit(at).path).url_name or "")
    except Resolver404:
        return ""


def harvest(visitor: Any, slug: str) -> list[Place]:
    """Walk from link to link, a few of each kind; return what was found, and every other route with made-up names."""
    left, seen, count, found = [f"/w/{slug}/", "/", "/verify/", "/units/"], set(), Counter[str](), []
    while left:
        at = left.pop(0)
        route = route_of(at)
        if at in seen or not route or count[route] >= OF_ONE_ROUTE or route in ("sign-out", "export-file"):
            continue
        seen.add(at)
        count[route] += 1
        text = visitor.ask("GET", quote(at, safe="/?=&%+:,;")).body.decode(errors="replace")
        found.append(_place(route, at, text))
        left += [unescape(link) for link in LINK.findall(text)]
    return found + [Place(route, at) for route, at in _others(slug) if not count[route]]


def _place(route: str, at: str, text: str) -> Place:
    files, values = set(), dict[str, list[str]]()
    for head, inside in A_FORM.findall(text):
        if 'method="post"' not in head:
            continue
        for one in INPUT.finditer(inside):
            files |= {one[1]} if IS_FILE.search(one[0]) else set()
            values.setdefault(unescape(one[1]), []).extend(map(unescape, VALUE.findall(one[0])))
        for name, options in SELECT.findall(inside):
            values[unescape(name)] += map(unescape, VALUE.findall(options))
    return Place(route, at, tuple(sorted({*values} - files)), tuple(sorted(files)), values)


def _others(slug: str) -> Iterator[tuple[str, str]]:
    from django.urls import get_resolver

    from tests.test_permissions import PARAMETER, routes

    for route, pattern in routes(get_resolver()):
        if not route.startswith("static"):
            yield str(pattern.name or ""), "/" + PARAMETER.sub(lambda m: slug if m["name"] == "slug" else "1", route)


class Attack:
    """What one of those who come asks, drawn from a seed."""

    def __init__(self, who: str, aim: Aim, seed: int) -> None:
        from tests.hostile import values

        self.v, self.who, self.slug, self.chance = values, who, aim.slug, random.Random(f"{who} {seed}")
        self.places, self.marks = aim.places, aim.marks
        self.weights = [self._weight(one) for one in aim.places]

    def _weight(self, place: Place) -> float:
        if place.route in STARTS_WORK:
            return 0.02
        return 0.1 if place.route in HEAVY else 1.0

    def one(self, visitor: Any) -> tuple[Place, str, bool, Any]:
        """Ask once; return the place, what was asked, whether the token was left out, and the answer."""
        chance, place = self.chance, self.chance.choices(self.places, self.weights)[0]
        at, what, token = self._at(place), chance.random(), chance.random() > 0.02
        if self.who == "stranger" and chance.random() < 0.5:
            at = at.replace(f"/w/{self.slug}/", "/w/far-away/")
        if what < (0.3 if place.fields else 0.8):
            return place, f"GET {at}", False, visitor.ask("GET", at)
        if what < 0.34:
            method = chance.choice(self.v.METHODS)
            return place, f"{method} {at}", not token, visitor.ask(method, at, None, "", token)
        if what < 0.38:
            kind, body = chance.choice(self.v.BODIES)
            return place, f"POST {at} as {kind}", not token, visitor.ask("POST", at, body, kind, token)
        sent, files = self._sent(place), self._files(place)
        return place, f"POST {at} {sent!r}", not token, visitor.send(at, sent, files, token)

    def _at(self, place: Place) -> str:
        path, _, query = place.at.partition("?")
        if self.chance.random() < 0.12:
            parts = path.split("/")
            place_of = self.chance.randrange(1, len(parts))
            if parts[place_of] not in ("w", self.slug):
                parts[place_of] = self.chance.choice(self.v.HOSTILE)[:2_000]
            path = "/".join(parts)
        asked = parse_qsl(query, keep_blank_values=True)
        if self.chance.random() < 0.3:
            names = self.chance.sample(self.v.QUERIES, 3)
            asked += [(name, self.chance.choice(self.v.HOSTILE)[:2_000]) for name in names]
        return quote(path, safe="/:") + (f"?{urlencode(asked)}" if asked else "")

    def _sent(self, place: Place) -> list[tuple[str, str]]:
        chance, sense = self.chance, self.chance.choice((0.0, 0.6, 0.95, 1.0))
        sent = []
        for name in place.fields:
            if name == "csrfmiddlewaretoken":  # what is sent beside the form counts
                continue
            choices = [one for one in place.values[name] if one and not self._tells(one)] or self.v.PLAUSIBLE
            sent.append((name, chance.choice(choices if chance.random() < sense else self.v.HOSTILE)))
        if sent and chance.random() < 0.3:
            sent.pop(chance.randrange(len(sent)))
        if sent and chance.random() < 0.2:
            sent.append(chance.choice(sent))
        if chance.random() < 0.8:
            sent = [(name, value) for name, value in sent if name != "key"] + [("key", str(uuid4()))]
        if place.route in ("password", "pin"):  # a guess that is right would lock the next ones out
            sent = [(name, value) for name, value in sent if name not in ("password", "again")]
        return sent

    def _tells(self, value: str) -> bool:
        """Whether a stranger who sends this would enter what is then looked for in the answers."""
        return self.who in ("anybody", "stranger") and any(mark in value for mark in self.marks)

    def _files(self, place: Place) -> list[tuple[str, str, str, bytes]]:
        if not place.files or self.chance.random() < 0.3:
            return []
        return [(name, *self.chance.choice(self.v.FILES)) for name in place.files]


def faults_of(who: str, said: str, tokenless: bool, answer: Any, marks: list[str]) -> list[str]:
    """Return what is wrong with an answer; a mark that was sent may come back."""
    wrong, text = [], answer.body.decode(errors="replace")
    if answer.status >= 500:
        wrong.append(f"{answer.status} to {who}: {said}")
    if who in ("anybody", "stranger"):
        sent = f"{said} {unquote_plus(said)}"
        wrong += [f"{who} was shown {mark}: {said}" for mark in marks if mark in text and mark not in sent]
    if tokenless and said.startswith("POST ") and answer.status in (200, 303):
        wrong.append(f"taken without a token: {said}")
    if "root:x:0" in text:
        wrong.append(f"a file of the machine was shown: {said}")
    return wrong


def phase(who: str, aim: Aim, count: int, seed: int, told: Told) -> None:
    """Have one of those who come ask `count` times, by several connections."""
    from tests.hostile.visitor import Visitor

    def work(number: int) -> None:
        visitor, attack = Visitor(aim.port, WHO[who]), Attack(who, aim, seed * 1_000 + number)
        visitor.sign_in()
        for _ in range(count // THREADS + (number < count % THREADS)):
            place, said, tokenless, answer = attack.one(visitor)
            told.asked[who] += 1
            told.answers[who, answer.status] += 1
            told.routes.add(place.route)
            told.wrong += faults_of(who, said, tokenless, answer, aim.marks)
            if visitor.name and answer.to_sign_in:
                visitor.sign_in()

    with ThreadPoolExecutor(THREADS) as pool:
        list(pool.map(work, range(THREADS)))


@contextmanager
def served(folder: Path) -> Iterator[int]:
    """Serve the invented book of DATABASE_URL as `make demo` does; give its port."""
    from tests.hostile.world import PASSWORD

    with create_server(("127.0.0.1", 0)) as free:
        port = int(free.getsockname()[1])
    environment = os.environ | {"PORT": str(port), "TAREBOOK_DEMO_PASSWORD": PASSWORD, "HOST": "127.0.0.1"}
    with (folder / "console").open("wb") as console:
        server = subprocess.Popen([".ci/serve", "demo"], cwd=ROOT, env=environment, stdout=console, stderr=console)
    try:
        while not _listens(port):
            assert server.poll() is None, (folder / "console").read_text()
            time.sleep(0.2)
        yield port
    finally:
        server.terminate()
        server.wait(60)


def _listens(port: int) -> bool:
    try:
        create_connection(("127.0.0.1", port), timeout=5).close()
    except OSError:
        return False
    return True


def proved() -> str:
    """Return what `verify` says of the book where that is a fault, else nothing."""
    ended = subprocess.run(
        [sys.executable, "manage.py", "verify"], cwd=ROOT, capture_output=True, text=True, check=False
    )
    return "" if ended.returncode == 0 else f"verify: {ended.stdout}{ended.stderr}"


def crawl(count: int, seed: int, port: int, slug: str) -> Told:
    """Have everybody ask, `count` times in all, and compare what stands before and after each."""
    from tests.hostile import world
    from tests.hostile.visitor import Visitor

    owner, told = Visitor(port, "owner"), Told()
    owner.sign_in()
    aim = Aim(port, slug, harvest(owner, slug), world.marks(slug))
    forms = sum(bool(one.fields) for one in aim.places)
    print(f"Seed {seed}: {len(aim.places)} places, {forms} of them with a form; {len(aim.marks)} names to be kept.")
    for who, share in SHARES.items():
        looked_at = world.OWNERS if who == "technician" else None
        before, began, lines = world.standing(looked_at), time.monotonic(), world.lines_of(slug, who)
        phase(who, aim, int(count * share), seed, told)
        if who != "owner":
            told.wrong += [f"{who} changed {row}" for row in world.changed(before, world.standing(looked_at))]
        told.wrong += [fault] if (fault := proved()) else []
        told.written[who] = world.lines_of(slug, who) - lines
        took_s = time.monotonic() - began
        print(f"{who}: {told.asked[who]} requests in {took_s:.0f} s, {len(told.wrong)} wrong so far", flush=True)
    return told


def show(told: Told, every: set[str]) -> None:
    """Print what came of it."""
    statuses = sorted({status for _, status in told.answers})
    print(f"\n| Who | Requests | {' | '.join(map(str, statuses))} | Lines written |")
    print("| --- " * (3 + len(statuses)) + "|")
    for who in SHARES:
        counts = " | ".join(str(told.answers[who, status]) for status in statuses)
        print(f"| {who} | {told.asked[who]} | {counts} | {told.written[who]} |")
    print(f"\n{sum(told.asked.values())} requests at {len(told.routes & every)} of {len(every)} addresses.")
    print(f"{len(told.wrong)} wrong.")
    for one in told.wrong[:40]:
        print(f"- {one:.600}")


def main() -> None:
    """Make the book where there is none, serve it, ask, and end with 1 where anything was wrong."""
    parser = argparse.ArgumentParser(description=__doc__.partition("\n")[0])
    parser.add_argument("--requests", type=int, default=100_000)
    parser.add_argument("--seed", type=int, default=random.SystemRandom().randrange(10_000))
    asked = parser.parse_args()
    with tempfile.TemporaryDirectory() as made:
        folder = Path(made)
        os.environ.setdefault("DATABASE_URL", f"sqlite:///{folder}/book.sqlite3")
        os.environ.setdefault("TAREBOOK_MEDIA", f"{folder}/media")
        os.environ["DJANGO_SETTINGS_MODULE"] = "shop.settings"
        import django
        from django.core.management import call_command

        django.setup()
        call_command("migrate", verbosity=0)
        call_command("demo_book", "--told", verbosity=0)
        from tests.hostile import world

        slug = world.furnish()
        with served(folder) as port:
            told = crawl(asked.requests, asked.seed, port, slug)
        show(told, {route for route, _ in _others(slug) if route})
    sys.exit(bool(told.wrong))


if __name__ == "__main__":
    main()
