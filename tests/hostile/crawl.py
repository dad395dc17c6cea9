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
from io import StringIO
from pathlib import Path
from socket import create_connection, create_server
from typing import Any
from urllib.parse import parse_qsl, quote, unquote_plus, urlencode
from uuid import uuid4

from tests.hostile.places import LEFT_OUT, Place, harvest, links, others, place_of, route_of
from tests.hostile.pressing import pressed
from tests.hostile.visitor import File, Sent

ROOT = Path(__file__).resolve().parents[2]
WHO = {"anybody": "", "stranger": "stranger", "reader": "reader", "technician": "technician", "owner": "owner"}
SHARES = {"anybody": 0.15, "stranger": 0.2, "reader": 0.2, "technician": 0.25, "owner": 0.2}
THREADS = 6
HEAVY = {"document-issue", "statement-file", "document-page", "cylinder-labels", "bay-sheet", "year-file"}
STARTS_WORK = {"export", "import", "import-match", "import-rest", "close-year"}  # a process of its own each time
WELL_MEANT = 0.6  # of those who send: the rest
LEARNT = 12  # addresses of a kind that one finds on the way
LEADS_AWAY = re.compile(r"^(?:go|change)$|_more$|_below$")  # buttons that leave the form, and what turns a sign


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
    pressed: Counter[str] = field(default_factory=Counter)

    def count(self, who: str, route: str, said: str, answer: Any) -> None:
        self.asked[who] += 1
        self.answers[who, answer.status] += 1
        self.routes.add(route)
        self.pressed[who] += said.endswith(" read back")

    def add(self, wrong: list[str]) -> None:
        """Keep what is wrong, and say it at once: a long run may be broken off."""
        self.wrong += wrong
        for one in wrong:
            print(f"- {one:.600}", flush=True)


class Attack:
    """What one of those who come asks, drawn from a seed."""

    def __init__(self, who: str, aim: Aim, seed: int) -> None:
        from tests.hostile import values

        self.v, self.who, self.slug, self.chance = values, who, aim.slug, random.Random(f"{who} {seed}")
        self.places, self.marks = list(aim.places), aim.marks
        self.weights = [self._weight(one) for one in self.places]
        self.learned, self.known = set[str](), Counter[str]()

    def _weight(self, place: Place) -> float:
        if place.route in STARTS_WORK:
            return 0.02
        return 0.1 if place.route in HEAVY else 1.0

    def asks(self, visitor: Any) -> Iterator[tuple[str, str, bool, Any]]:
        """Ask once, and press what is read back; yield route, what was asked, whether without token, and the answer."""
        place = self.chance.choices(self.places, self.weights)[0]
        at, token = self._at(place), self.chance.random() > 0.02
        if self.who == "stranger" and self.chance.random() < 0.5:
            at = at.replace(f"/w/{self.slug}/", "/w/far-away/")
        what = self.chance.random() + (0 if place.fields or place.at in self.learned else -0.5)
        if 0.38 <= what < WELL_MEANT or (what >= WELL_MEANT and not token):
            sent, files = self._sent(place), self._files(place)
            yield from self._pressed(visitor, place, at, sent, files, token)
        elif what >= WELL_MEANT:
            yield from self._filled(visitor, place)
        else:
            yield place.route, *self._asked(visitor, at, what, token)

    def _pressed(
        self, visitor: Any, place: Place, at: str, sent: Sent, files: list[File], token: bool = True
    ) -> Iterator[tuple[str, str, bool, Any]]:
        answer = first = visitor.send(at, sent, files, token)
        yield place.route, f"POST {at} {sent!r}", not token, first
        for again, answer in pressed(visitor, at, first, files, self.chance):
            yield place.route, f"POST {at} {again!r} read back", False, answer
        there = answer.headers.get("location", "")
        if answer.status == 303 and there.startswith(f"/w/{self.slug}/"):
            answer = visitor.ask("GET", there)
            self._learn(there, answer)
            yield route_of(there), f"GET {there}", False, answer

    def _filled(self, visitor: Any, place: Place) -> Iterator[tuple[str, str, bool, Any]]:
        """Open a form and fill it as somebody would who means well: what is to be broken is written so."""
        at = quote(place.at, safe="/:?=&%")
        answer = visitor.ask("GET", at)
        shown = self._learn(place.at, answer)
        yield place.route, f"GET {at}", False, answer
        if shown.fields and answer.status == 200:
            yield from self._pressed(visitor, shown, at, self._sent(shown, 1.0), self._files(shown))

    def _learn(self, at: str, answer: Any) -> Place:
        """Return what a page shows; remember what it leads to, a few of each kind."""
        text = answer.body.decode(errors="replace")
        for link in links(text):
            route = route_of(link)
            if route not in LEFT_OUT and route and self.known[route] < LEARNT and link not in self.learned:
                self.known[route] += 1
                self.learned.add(link)
                self.places.append(Place(route, link))
                self.weights.append(self._weight(self.places[-1]))
        return place_of(route_of(at), at, text)

    def _asked(self, visitor: Any, at: str, what: float, token: bool) -> tuple[str, bool, Any]:
        if what < 0.3:
            return f"GET {at}", False, visitor.ask("GET", at)
        if what < 0.34:
            method = self.chance.choice(self.v.METHODS)
            return f"{method} {at}", not token, visitor.ask(method, at, None, "", token)
        kind, body = self.chance.choice(self.v.BODIES)
        return f"POST {at} as {kind}", not token, visitor.ask("POST", at, body, kind, token)

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

    def _sent(self, place: Place, sense: float | None = None) -> Sent:
        chance = self.chance
        sense = chance.choice((0.0, 0.6, 0.95, 1.0)) if sense is None else sense
        sent = []
        for name in place.fields:
            if name == "csrfmiddlewaretoken":  # what is sent beside the form counts
                continue
            if LEADS_AWAY.search(name) and chance.random() < 0.95:
                continue
            kept = [one for one in place.values[name] if one and not self._tells(one)]
            sent.append((name, chance.choice(self.v.likely(name, kept) if chance.random() < sense else self.v.HOSTILE)))
        if sent and sense < 1 and chance.random() < 0.3:
            sent.pop(chance.randrange(len(sent)))
        if sent and sense < 1 and chance.random() < 0.2:
            sent.append(chance.choice(sent))
        if chance.random() < 0.8:
            sent = [(name, value) for name, value in sent if name != "key"] + [("key", str(uuid4()))]
        if place.route in ("password", "pin"):  # a guess that is right would lock the next ones out
            sent = [(name, value) for name, value in sent if name not in ("password", "again")]
        return sent

    def _tells(self, value: str) -> bool:
        """Whether a stranger who sends this would enter what is then looked for in the answers."""
        return self.who in ("anybody", "stranger") and any(mark in value for mark in self.marks)

    def _files(self, place: Place) -> list[File]:
        if not place.files or self.chance.random() < 0.3:
            return []
        if self.chance.random() < 0.3:
            return [(name, "a.jpg", "image/jpeg", self.v.PICTURE) for name in place.files]
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
        left = count // THREADS + (number < count % THREADS)
        while left > 0:
            for route, said, tokenless, answer in attack.asks(visitor):
                left -= 1
                told.count(who, route, said, answer)
                told.add(faults_of(who, said, tokenless, answer, aim.marks))
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
    from django.core.management import CommandError, call_command

    try:
        call_command("verify", stdout=StringIO(), stderr=StringIO())
    except CommandError as fault:
        return f"verify: {fault}"
    return ""


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
            told.add([f"{who} changed {row}" for row in world.changed(before, world.standing(looked_at))])
        told.add([fault] if (fault := proved()) else [])
        told.written[who] = world.lines_of(slug, who) - lines
        took_s = time.monotonic() - began
        print(f"{who}: {told.asked[who]} requests in {took_s:.0f} s, {len(told.wrong)} wrong so far", flush=True)
    return told


def show(told: Told, every: set[str]) -> None:
    """Print what came of it."""
    statuses = sorted({status for _, status in told.answers})
    print(f"\n| Who | Requests | {' | '.join(map(str, statuses))} | Read back, pressed | Lines written |")
    print("| --- " * (4 + len(statuses)) + "|")
    for who in SHARES:
        counts = " | ".join(str(told.answers[who, status]) for status in statuses)
        print(f"| {who} | {told.asked[who]} | {counts} | {told.pressed[who]} | {told.written[who]} |")
    print(f"\n{sum(told.asked.values())} requests at {len(told.routes & every)} of {len(every)} addresses.")
    print(f"{len(told.wrong)} wrong.")


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
        show(told, {route for route, _ in others(slug) if route})
    sys.exit(bool(told.wrong))


if __name__ == "__main__":
    main()
