"""A hand on a phone: it opens pages, fills fields by their labels, presses what it can read, and looks after each.

    hand = Hand(page, server.address)
    hand.open("/")
    hand.write("Gross on the scale", "30 4.5", "lb and oz")
    hand.choose("Scale", "S1")
    hand.send("Write it in the book")    # and the same words on the page that reads the figures back

Nothing is found by a field's name or an address inside the book: only by words that a person sees. After every page the
hand looks: an answer of 400 or more that was not announced, an error in the console, an error of a script, or a page
wider than the screen ends the journey. `loads`, `presses`, `characters` and `words` count what a person
waited for, touched, typed and was shown; at a `pace` the hand takes its time over them, and `paused` sums it.
"""

import io
import re
import time
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Literal
from zoneinfo import ZoneInfo

from PIL import Image
from playwright.sync_api import ConsoleMessage, FilePayload, Locator, Page, Response

from .conftest import next_page, until

WIDTH, HEIGHT = 360, 740
ECHO_MS = 400  # a little more than the pages wait before they read a figure back
# The words of the page without those of long lists.
TEXT = """() => {
  const page = document.getElementById('page');
  const lists = [...page.querySelectorAll('select')].map((one) => one.innerText);
  const long = lists.filter((one) => one.split('\\n').length > 21);
  return long.reduce((words, one) => words.replace(one, () => ''), page.innerText);
}"""
# How wide the page is, the words of its middle, and those of its lists.
ARRIVED = """() => {
  const main = document.querySelector('main');
  const listed = [...main.querySelectorAll('select option')].map((one) => one.textContent);
  return [document.documentElement.scrollWidth, main.innerText, listed];
}"""
# Where a field stands among all fields, and what is in it, whose label or legend says a pattern and that is seen; and
# which folded group holds one.
FIELD = """(pattern) => {
  const says = new RegExp(pattern, 's');
  const heads = ':scope > label, :scope > legend, :scope > label > span';
  const named = (field) => [...field.querySelectorAll(heads)].some((head) => says.test(head.textContent));
  const seen = (e) => e.checkVisibility({ visibilityProperty: true }) && e.getBoundingClientRect().height > 0;
  const fields = [...document.querySelectorAll('main .field')];
  const groups = [...document.querySelectorAll('main form details:not([open])')];
  const field = fields.find((one) => named(one) && seen(one));
  return {
    place: fields.indexOf(field),
    group: groups.findIndex((group) => [...group.querySelectorAll('.field')].some(named)),
    quantity: Boolean(field && field.querySelector('.quantity')),
    choice: Boolean(field && field.querySelector('select, input[type=radio]')),
  };
}"""


@dataclass(frozen=True)
class Below:
    """A figure below nothing: a vacuum, frost."""

    text: str
    unit: str


@dataclass(frozen=True)
class Ago:
    """A day and time some minutes before now."""

    minutes: int


@dataclass(frozen=True)
class Rows:
    """Readings one below the other: time, pressure and, where it is asked, temperature."""

    rows: tuple[tuple[str, ...], ...]


@dataclass(frozen=True)
class Photos:
    """So many pictures from the camera."""

    number: int


@dataclass(frozen=True)
class Pace:
    """How long somebody takes over a page, a press and a key, in seconds."""

    page: float
    press: float
    key: float


@dataclass(frozen=True)
class Field:
    """A field's block, and whether it takes a figure with its unit, or offers a choice."""

    block: Locator
    quantity: bool
    choice: bool


Answer = str | tuple[str, str] | Below | Ago | Rows | Photos


def photo(width: int, height: int, shade: int) -> bytes:
    """Return a JPEG of rings."""
    written = io.BytesIO()
    picture = Image.radial_gradient("L").resize((width, height)).point(lambda grey: (grey * 3 + shade) % 256)
    picture.save(written, "JPEG")
    return written.getvalue()


def words_of(label: str) -> re.Pattern[str]:
    """Match what says just this, with or without a unit behind a comma and "(optional)" and the like behind that."""
    return re.compile(rf"^\s*{_spaced(label)}\s*(,[^(]*)?(\(.*\))?\s*$", re.DOTALL)


def _spaced(words: str) -> str:
    """Return a pattern for the words, whatever blanks stand between them."""
    return r"\s+".join(re.escape(word) for word in words.split())


class Hand:
    """One person with one page; `script` says whether the browser runs scripts."""

    def __init__(self, page: Page, address: str, *, script: bool = True) -> None:
        self.page, self.address, self.script = page, address, script
        self.loads = self.presses = self.characters = self.words = 0
        self.pace, self.paused = Pace(0, 0, 0), 0.0
        self._read: set[str] = set()
        self.zone = ZoneInfo("UTC")  # of the workshop, once it has one
        self._expected = False
        self._typed, self._typed_at = False, 0.0
        self._complaints: list[str] = []
        page.on("response", self._answered)
        page.on("console", self._heard)
        page.on("pageerror", lambda error: self._complaints.append(f"script: {error}"))

    # --- looking ------------------------------------------------------------------------------------------------

    def _answered(self, response: Response) -> None:
        if response.status >= 400 and not (response.status == 422 and self._expected):
            self._complaints.append(f"{response.status} {response.request.method} {response.url}")

    def _heard(self, message: ConsoleMessage) -> None:
        announced = self._expected and "422" in message.text
        typed_on = message.text.endswith("[object HTMLOutputElement]")  # an echo that a newer figure has overtaken
        kept_out = message.text == "Service Worker registration blocked by Playwright"
        if message.type in ("error", "warning") and not (announced or typed_on or kept_out):
            self._complaints.append(f"console: {message.text}")

    def _look(self) -> None:
        """See that the page came whole, without complaint, and no wider than the screen; count what it says anew."""
        assert not self._complaints, f"{self._complaints} on {self.page.url}: {self.text()}"
        wide, text, listed = self.page.evaluate(ARRIVED)
        assert wide <= WIDTH, f"{wide} px wide: {self.page.url}"
        self.words += self._words(text, listed)

    def text(self) -> str:
        """Return the words of the page, what is beside it and what was just said, without long lists to choose from."""
        words: str = self.page.evaluate(TEXT)
        return " ".join(words.split())

    def sees(self, *words: str) -> None:
        """See each of these words on the page; blanks and line ends do not matter."""
        shown = self.text()
        for one in words:
            assert " ".join(one.split()) in shown, f"{one!r} is not on {self.page.url}: {shown}"

    def sees_not(self, *words: str) -> None:
        shown = self.text()
        for one in words:
            assert one not in shown, f"{one!r} is on {self.page.url}: {shown}"

    @contextmanager
    def turned_back(self, *, certainly: bool = True) -> Iterator[None]:
        """Announce that the next sending is, or may be, turned back."""
        self._expected = True
        yield
        self._expected = False
        if certainly:
            assert self.page.locator("#put-right").count(), f"Not turned back: {self.page.url}: {self.text()}"

    # --- moving -------------------------------------------------------------------------------------------------

    def open(self, path: str) -> None:
        """Type an address, as the console printed it."""
        self.page.goto(f"{self.address}{path}")
        self._arrived()

    def back(self) -> None:
        """Use the browser's Back."""
        with self._next_page():
            self.page.go_back()

    def _arrived(self) -> None:
        self.loads += 1
        self._typed = False
        self._look()
        self._pause(self.pace.page)

    def _words(self, text: str, listed: list[str]) -> int:
        """Return how many words stand in lines that were not shown before.

        Lists to choose from are not opened for it.
        """
        lines = [" ".join(line.split()) for line in text.splitlines()]
        fresh = [line for line in dict.fromkeys(lines) if line not in self._read and line not in listed]
        self._read.update(fresh)
        return sum(len(line.split()) for line in fresh)

    def _pause(self, seconds: float) -> None:
        if seconds:
            self.paused += seconds
            self.page.wait_for_timeout(seconds * 1000)

    def _touch(self, what: Locator) -> None:
        self._pause(self.pace.press)
        what.tap()
        self.presses += 1

    def _type(self, box: Locator, text: str) -> None:
        """Touch a box and type into it."""
        self._pause(self.pace.press)
        box.fill(text)
        self._pause(self.pace.key * len(text))
        self.presses += 1
        self.characters += len(text)

    def _go(self, what: Locator, *, twice: bool = False) -> None:
        """Touch something that leads to another page, and wait for that."""
        if self.script and self._typed:
            self.page.wait_for_timeout(max(0, ECHO_MS - (time.monotonic() - self._typed_at) * 1000))
            until(self.page, "!document.querySelector('.htmx-request')")
        self._pause(self.pace.press)
        self.presses += 1
        with self._next_page():
            (what.dblclick if twice else what.tap)()

    @contextmanager
    def _next_page(self) -> Iterator[None]:
        """Look at the page that what is done inside leads to, once it is there."""
        with next_page(self.page):
            yield
        self._arrived()

    def press(self, words: str, *, under: str = "", twice: bool = False) -> None:
        """Press a button or follow a link by its words, and wait for the page that answers; `under` names a heading."""
        sheet = self.page.locator(".sheet")
        if under:
            sheet = sheet.locator("h2", has_text=words_of(under)).locator("xpath=following-sibling::*[1]")
        roles: tuple[Literal["button", "link"], ...] = ("button", "link")
        for role in roles:
            found = sheet.get_by_role(role, name=words, exact=True).locator("visible=true")
            if found.count():
                return self._go(found.first, twice=twice)
        raise AssertionError(f"Nothing to press says {words!r} on {self.page.url}: {self.text()}")

    def turn_to(self, words: str) -> None:
        """Open the list of pages at the head and follow one."""
        self._touch(self.page.locator("details.pages > summary"))
        self._go(self.page.locator("details.pages").get_by_role("link", name=words, exact=True).first)

    def send(self, words: str, *, twice: bool = False) -> None:
        """Press a button and, where figures are read back first, press there too; `twice`, as a hasty thumb does."""
        self.press(words, twice=twice)
        if self.page.locator("dl.read-back").count():
            self._go(self.page.locator("main form.form button.main"), twice=twice)
        assert not self.page.locator("#put-right").count(), f"Turned back on {self.page.url}: {self.text()}"

    # --- filling ------------------------------------------------------------------------------------------------

    def field(self, label: str) -> Field:
        """Return the field whose label or legend says this; a group that holds it is unfolded first."""
        pattern = words_of(label).pattern
        found = self.page.evaluate(FIELD, pattern)
        if found["place"] < 0 <= found["group"]:
            folded = self.page.locator("main form details:not([open])").nth(found["group"])
            self._touch(folded.locator("> summary"))
            found = self.page.evaluate(FIELD, pattern)
        assert found["place"] >= 0, f"No field {label!r} on {self.page.url}: {self.text()}"
        return Field(self.page.locator("main .field").nth(found["place"]), found["quantity"], found["choice"])

    def typed(self, label: str) -> str:
        """Return what stands in a field."""
        return self.field(label).block.locator("input[type=text]").first.input_value()

    def write(self, label: str, text: str, unit: str = "") -> None:
        """Type into a field, and choose its unit where one is named."""
        self._write(self.field(label), text, unit)

    def write_by_key(self, label: str, pounds: str, ounces: str) -> None:
        """Type pounds and ounces on a keypad without a blank: the key beside the field parts them."""
        field = self.field(label)
        self._write(field, pounds)
        self._touch(field.block.locator(".pounds button"))
        self.page.keyboard.type(ounces)
        self._pause(self.pace.key * len(ounces))
        self.characters += len(ounces)
        self._typed_at = time.monotonic()

    def _write(self, field: Field, text: str, unit: str = "") -> None:
        block = field.block
        if unit:
            self._choose_from(block.locator("select.unit"), unit)
        self._type(block.locator("input[type=text], input[type=password], input[type=search], textarea").first, text)
        if field.quantity:
            self._typed, self._typed_at = True, time.monotonic()

    def below(self, label: str, text: str, unit: str) -> None:
        """Type a figure that stands below nothing: a vacuum, frost."""
        self.write(label, text, unit)
        box = self.field(label).block.locator(".below input")
        if not box.is_checked():
            self._touch(box)

    def ago(self, label: str, minutes: int) -> None:
        """Set a day and time on the picker, some minutes before now on the clock of the workshop."""
        then = datetime.now(self.zone) - timedelta(minutes=minutes)
        self.field(label).block.locator("input[type=datetime-local]").fill(f"{then:%Y-%m-%dT%H:%M}")
        self.presses += 1

    def choose(self, label: str, words: str) -> None:
        """Choose an answer of a field by its words, from a list or by touching it."""
        self._choose(self.field(label), words)

    def _choose(self, field: Field, words: str) -> None:
        listed = field.block.locator("select")
        if listed.count():
            self._choose_from(listed.first, words)
        else:
            self._touch(field.block.locator("label", has_text=words_of(words)).last)

    def _choose_from(self, listed: Locator, words: str) -> None:
        """Open a list and choose from it: two presses."""
        shown = [" ".join(one.split()) for one in listed.locator("option").all_text_contents()]
        alike = [place for place, one in enumerate(shown) if re.match(rf"{_spaced(words)}(\W|$)", one)]
        assert words in shown or alike, f"{words!r} is not among {shown} on {self.page.url}"
        listed.select_option(index=shown.index(words) if words in shown else alike[0])
        self.presses += 2

    def tick(self, label: str) -> None:
        self._touch(self.field(label).block.locator("input[type=checkbox]"))

    def fill(self, answers: Mapping[str, Answer]) -> None:
        """Answer fields by their labels: words to type or to choose, a figure with its unit, and the kinds above."""
        for label, answer in answers.items():
            if isinstance(answer, Below):
                self.below(label, answer.text, answer.unit)
            elif isinstance(answer, Ago):
                self.ago(label, answer.minutes)
            elif isinstance(answer, Rows):
                self.read_off(answer)
            elif isinstance(answer, Photos):
                self.photograph(label, answer.number)
            elif isinstance(answer, tuple):
                self.write(label, *answer)
            else:
                field = self.field(label)
                if field.choice and not field.quantity:
                    self._choose(field, answer)
                else:
                    self._write(field, answer)

    def photograph(self, label: str, number: int) -> None:
        """Take pictures, as large as a phone makes them after its own reduction."""
        camera = self.field(label).block.locator("input[type=file]").first
        pictures = [photo(1600, 1200, shade) for shade in range(60, 60 + number)]
        camera.set_input_files(
            [FilePayload(name=f"IMG_{n}.jpg", mimeType="image/jpeg", buffer=one) for n, one in enumerate(pictures)]
        )
        self.presses += number

    def read_off(self, readings: Rows) -> None:
        """Fill the rows of readings, and ask for one more where there are too few."""
        for number, figures in enumerate(readings.rows):
            rows = self.page.locator("main .reading")
            if number == rows.count():
                self.press("One more reading")
            for box, text in zip(rows.nth(number).locator("input").all(), figures, strict=True):
                box.fill(text)

    def then(self, words: str) -> None:
        """Choose with which step the visit goes on once this one is written."""
        self.page.get_by_label("Then", exact=True).select_option(label=words)
        self.presses += 2  # the list and its line

    def add_step(self, words: str) -> None:
        """Choose the next step of a visit from its list."""
        self.page.get_by_label("Step", exact=True).select_option(label=words)
        self.presses += 1
        self.press("Add the step")
