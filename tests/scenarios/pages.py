"""A person at the pages: opens a form, types, presses its button, reads back, and comes to the page that follows.

Nothing is sent that does not stand in the form: an input that a page does not have cannot be filled in, and a choice
that it does not offer cannot be chosen. Without script every form with a quantity is read back before it is written.
"""

import re
from dataclasses import dataclass, field
from html.parser import HTMLParser
from typing import Any

from django.test import Client

Sent = dict[str, str | list[str]]


@dataclass
class Choice:
    """One option of a list, one radio button or one box."""

    value: str
    words: str
    chosen: bool


@dataclass
class Control:
    """One named input of a form: what is typed into it, or what may be chosen."""

    kind: str
    value: str = ""
    choices: list[Choice] = field(default_factory=list)

    def sent(self) -> list[str]:
        """What a browser would send of it."""
        if not self.choices:
            return [self.value]
        return [one.value for one in self.choices if one.chosen]


@dataclass
class Form:
    """A form of a page, with what stands in it."""

    action: str
    controls: dict[str, Control] = field(default_factory=dict)
    buttons: list[tuple[str, str, str]] = field(default_factory=list)  # name, value, words

    def fill(self, name: str, typed: object) -> None:
        """Type into an input, or choose by the value or by the words beside it."""
        assert name in self.controls, f"no input {name} among {sorted(self.controls)}"
        control = self.controls[name]
        assert control.kind != "hidden", f"{name} is not for people"
        if not control.choices:
            control.value = str(typed)
            return
        if control.kind == "checkbox":
            control.choices[0].chosen = bool(typed)
            return
        wanted = [one for one in control.choices if _is(one, str(typed))]
        words = [one.words for one in control.choices]
        assert len({one.value for one in wanted}) == 1, f"{typed!r} is not one of the choices {words} of {name}"
        for one in control.choices:
            one.chosen = one is wanted[0]

    def data(self) -> Sent:
        """What a browser would send when its main button is pressed."""
        found = {name: control.sent() for name, control in self.controls.items()}
        return {name: values[0] if len(values) == 1 else values for name, values in found.items() if values}


def _is(choice: Choice, typed: str) -> bool:
    return typed in (choice.value, choice.words) or choice.words.startswith((f"{typed}, ", f"{typed}: "))


class _Reader(HTMLParser):
    """Reads the text and the forms of a page."""

    def __init__(self) -> None:
        super().__init__()
        self.forms: list[Form] = []
        self.text: list[str] = []
        self.form: Form | None = None
        self.select = ""
        self.open: list[Choice] = []  # choices whose words are still being read
        self.area = ""
        self.button: tuple[str, str] | None = None
        self.links: list[tuple[str, str]] = []  # address, words
        self.link = ""

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        of = {name: value or "" for name, value in attrs}
        self.text.append(" ")
        if tag == "a":
            self.link = of.get("href", "")
            self.links.append((self.link, ""))
        if tag == "form" and of.get("method", "get").lower() == "post":
            self.form = Form(of.get("action", ""))
            self.forms.append(self.form)
        if self.form is None:
            return
        name = of.get("name", "")
        if tag == "input" and name:
            self._input(name, of)
        elif tag == "select" and name:
            self.select = name
            self.form.controls[name] = Control("select")
        elif tag == "option" and self.select:
            self.open = [Choice(of.get("value", ""), "", "selected" in of)]
            self.form.controls[self.select].choices += self.open
        elif tag == "textarea" and name:
            self.area = name
            self.form.controls[name] = Control("text")
        elif tag == "button":
            self.button = (name, of.get("value", ""))
            self.form.buttons.append((*self.button, ""))
        elif tag == "label":
            self.open = []

    def _input(self, name: str, of: dict[str, str]) -> None:
        assert self.form is not None
        kind = of.get("type", "text")
        if kind == "file":
            return  # a browser sends no text for it
        known = self.form.controls.setdefault(name, Control(kind))
        if kind in ("radio", "checkbox"):
            one = Choice(of.get("value", "on"), "", "checked" in of)
            known.choices.append(one)
            self.open = [one]
        elif known.value and kind == "hidden":
            known.choices = [*(known.choices or [Choice(known.value, "", True)]), Choice(of.get("value", ""), "", True)]
        else:
            known.value = of.get("value", "")

    def handle_endtag(self, tag: str) -> None:
        self.text.append(" ")
        if tag == "a":
            self.link = ""
        elif tag == "form":
            self.form = None
        elif tag == "select" and self.select:
            self._browser_chooses_first()
            self.select = ""
        elif tag == "textarea":
            self.area = ""
        elif tag == "button":
            self.button = None
        elif tag in ("label", "option"):
            self.open = []

    def _browser_chooses_first(self) -> None:
        assert self.form is not None
        choices = self.form.controls[self.select].choices
        if choices and not any(one.chosen for one in choices):
            choices[0].chosen = True

    def handle_data(self, data: str) -> None:
        self.text.append(data)
        if self.link:
            self.links[-1] = (self.link, f"{self.links[-1][1]}{data}".strip())
        for one in self.open:
            one.words = " ".join(f"{one.words} {data}".split())
        if self.area and self.form is not None:
            self.form.controls[self.area].value += data.removeprefix("\n")
        if self.button is not None and self.form is not None:
            self.form.buttons[-1] = (*self.button, f"{self.form.buttons[-1][2]}{data}".strip())


@dataclass
class Page:
    """What came: the status of the sending, the page that a person then sees, and what was sent."""

    status: int
    url: str
    html: str
    sent: Sent = field(default_factory=dict)
    asked: "Page | None" = None  # the read-back page on the way

    def __post_init__(self) -> None:
        reader = _Reader()
        reader.feed(self.html)
        self.forms = reader.forms
        self.links = reader.links
        words = re.sub(r"\s+", " ", "".join(reader.text))
        self.text = re.sub(r" (?=[.,;:)])", "", words)

    def __contains__(self, words: object) -> bool:
        return str(words) in self.text

    @property
    def read_back(self) -> str:
        """What the page on the way said before anything was written."""
        assert self.asked is not None, "nothing was read back"
        return self.asked.text

    @property
    def form(self) -> Form:
        """The form that the page is there for: not the small ones of its sides."""
        main = [one for one in self.forms if "key" in one.controls] or self.forms
        return main[-1]

    @property
    def is_read_back(self) -> bool:
        """Whether it is the page that says what was understood."""
        return self.status == 200 and any("read_back" in one.controls for one in self.forms)

    def leads(self, words: str) -> list[str]:
        """Return the addresses of the links that say `words`."""
        return [address for address, said in self.links if said == words]

    @property
    def insisting(self) -> tuple[str, str] | None:
        """The button by which a person says that a doubtful reading was read so, if the page has one."""
        return next(((name, value) for name, value, words in self.form.buttons if words.startswith("It does")), None)


def look(client: Client, url: str) -> Page:
    """Open a page, wherever it leads."""
    response = client.get(url)
    while response.status_code in (301, 302, 303):
        url = response["Location"]
        response = client.get(url)
    return Page(response.status_code, url, response.content.decode())


def send(client: Client, url: str, data: Sent, *, stay: bool = False) -> Page:
    """Send a form as it stands and follow it to where it leads, or `stay`; the status is that of the sending."""
    response = client.post(url, data)
    if response.status_code != 303:
        return Page(response.status_code, url, response.content.decode(), data)
    if stay:
        return Page(303, response["Location"], "", data)
    then = look(client, response["Location"])
    assert then.status == 200, then.text
    return Page(303, then.url, then.html, data)


def fill(page: Page, typed: dict[str, Any]) -> Sent:
    """Type into the form of a page and return what its button sends."""
    form = page.form
    for name, value in typed.items():
        form.fill(name, value)
    return form.data()


def press(
    client: Client,
    url: str,
    *,
    until_read_back: bool = False,
    it_does_read: bool = False,
    stay: bool = False,
    **typed: Any,
) -> Page:
    """Open the form at `url`, type, press its button, and press again where it is read back.

    `it_does_read`: the person insists on readings that are asked about: between two steps, or far from usual.
    `stay`: the page that follows is not opened.
    """
    page = look(client, url)
    assert page.status == 200, page.text
    wanted = rows_wanted(typed)
    while wanted and len(rows_of(page, wanted[0])) < wanted[1]:
        page = Page(
            200, page.url, client.post(page.url, {**page.form.data(), f"{wanted[0]}_more": "1"}).content.decode()
        )
    at = page.form.action or page.url
    answer = send(client, at, fill(page, typed), stay=stay)
    while it_does_read and answer.status == 422 and (button := answer.insisting):
        answer = send(client, at, {**answer.form.data(), button[0]: button[1]}, stay=stay)
    if answer.is_read_back and not until_read_back:
        return confirm(client, answer, stay=stay)
    return answer


def confirm(client: Client, asked: Page, *, stay: bool = False) -> Page:
    """Press the button of a read-back page."""
    done = send(client, asked.url, asked.form.data(), stay=stay)
    done.asked = asked
    return done


def rows_wanted(typed: dict[str, Any]) -> tuple[str, int] | None:
    """Return the name of the readings among what is typed, and how many rows they need."""
    rows = [re.fullmatch(r"(\w+?)_(\d+)_time", name) for name in typed]
    found = [(match[1], int(match[2]) + 1) for match in rows if match]
    return max(found, key=lambda one: one[1]) if found else None


def rows_of(page: Page, name: str) -> list[str]:
    """Return the rows for readings that a page has."""
    return [one for one in page.form.controls if re.fullmatch(rf"{name}_\d+_time", one)]
