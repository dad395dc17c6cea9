"""From an empty book to a handed-over car, its paper and its masses in the statement, on a phone.

Each story of `stories` is what a person in a workshop does from the moment the console has printed its code: nothing is
put into the database beside the pages.
"""

import io
import re
from collections.abc import Callable, Iterator, Mapping
from contextlib import ExitStack, contextmanager
from zoneinfo import ZoneInfo

import pytest
from playwright.sync_api import Browser
from pypdf import PdfReader

from .conftest import Server, code_of
from .hand import HEIGHT, WIDTH, Answer, Hand
from .stories import EUROPEAN_UNION, INDIA, Story

WRITE, IN_BOOK = "Write it in the log", "Write it in the book"
PASSWORD = "gravel pigeon lamp sofa"

Phone = Callable[..., Hand]


@pytest.fixture
def phone(browser: Browser) -> Iterator[Phone]:
    """A phone in the hand of somebody new: phone(server, zone, script=True)."""
    with ExitStack() as phones:

        def take(server: Server, zone: str, *, script: bool) -> Hand:
            return phones.enter_context(new_phone(browser, server, zone, script=script))

        yield take


@contextmanager
def new_phone(browser: Browser, server: Server, zone: str, *, script: bool = True) -> Iterator[Hand]:
    context = browser.new_context(
        viewport={"width": WIDTH, "height": HEIGHT},
        has_touch=True,
        is_mobile=True,
        java_script_enabled=script,
        timezone_id=zone,
        accept_downloads=True,
        service_workers="block",
    )
    hand = Hand(context.new_page(), server.address, script=script)
    hand.zone = ZoneInfo(zone)
    yield hand
    context.close()


# --- the parts of a story -----------------------------------------------------------------------------------------


def set_up(hand: Hand, server: Server, story: Story) -> None:
    """From the code on the console to the first scale; the steps after it are left for later."""
    set_up_to_the_scale(hand, server, story)
    for _ in ("gauges", "phone", "cylinders", "machine", "certificate", "people"):
        hand.press("Later")
    hand.sees("To do")


def set_up_to_the_scale(hand: Hand, server: Server, story: Story) -> None:
    hand.open("/")
    hand.fill(
        {
            "The code from the console": code_of(server.book).lower().replace("-", " "),
            "The name to sign in with": story.owner.split()[0].lower(),
            "Name as it stands on papers": story.owner,
            "Password": PASSWORD,
        }
    )
    hand.press("Keep and go on")
    hand.fill(story.workshop)
    if not hand.script:  # a script takes it from the phone
        hand.choose("Time zone", story.place)
    hand.press("Keep and go on")
    hand.press("Keep and go on")
    hand.fill(story.scale)
    hand.press("Add the scale")
    hand.press("Go on")


def enter_certificate_and_instruments(hand: Hand, story: Story) -> None:
    hand.turn_to("People")
    hand.press(story.owner)
    hand.press("Enter a certificate")
    hand.fill(story.certificate)
    hand.tick("It never expires")
    hand.press("Keep it")
    hand.turn_to("Settings")
    for gauge in story.gauges[1:]:
        hand.press("Enter an instrument")
        hand.fill(gauge)
        hand.press("Keep it")


def receive(hand: Hand, story: Story) -> None:
    """A full cylinder comes from a supplier who is not in the book yet."""
    hand.turn_to("Logbook")
    hand.press("Receive a cylinder")
    hand.press(story.bought_as, under="Bought, with gas in it")
    hand.fill(story.bought)
    hand.press("Enter a supplier")
    hand.fill({"Name": story.supplier})
    hand.press("Keep it")
    hand.send("Receive it")
    hand.sees(f"Bought from {story.supplier}")


def arrive(hand: Hand, story: Story) -> None:
    hand.turn_to("Logbook")
    hand.press("Start a visit")
    hand.fill(story.arrival)
    hand.send("Start the visit")
    if story.inside:
        hand.press("Change")
        hand.fill(story.inside)
        hand.press("Keep it")


def step(hand: Hand, story: Story, words: str, answers: Mapping[str, Answer]) -> None:
    """Add a step to the visit, write it and read what the log says of it."""
    hand.add_step(words)
    if words == "standing pressure":
        enter_the_gauge(hand, story, answers)
    hand.fill(answers)
    hand.send(WRITE)
    hand.sees(*story.seen.get(words, ()))
    hand.sees_not("is not entered, here or", "Only part")


def enter_the_gauge(hand: Hand, story: Story, answers: Mapping[str, Answer]) -> None:
    """The book has no pressure gauge yet: it is entered from within the step, and what was typed is there again."""
    pressure = {label: answer for label, answer in answers.items() if label == "Pressure on the gauge"}
    hand.fill(pressure)
    typed = hand.typed("Pressure on the gauge")
    hand.press("Enter a gauge")
    hand.fill(story.gauges[0])
    hand.press("Keep it")
    assert hand.typed("Pressure on the gauge") == typed


def recover(hand: Hand, story: Story) -> None:
    """No cylinder fits: an empty one is brought in from there, and the leg goes on."""
    hand.add_step("recovery")
    hand.press("Bring in an empty cylinder")
    hand.fill(story.empty)
    hand.send("Receive it")
    hand.fill(story.recovered)
    if story.slips:
        mistype(hand, story)
    else:
        hand.send(IN_BOOK)
    hand.sees(*story.seen["recovery"])
    hand.sees("Emptied:")
    hand.sees_not("Only part", "No proof")


def mistype(hand: Hand, story: Story) -> None:
    """A decimal mark in the wrong place is turned back with what was meant to press; all else that was typed stays."""
    hand.fill(story.slips)
    with hand.turned_back():
        hand.press(IN_BOOK)
    assert hand.typed("Gross after") == story.recovered["Gross after"]
    hand.send(f"{story.recovered['Gross before']} kg?")


def charge(hand: Hand, story: Story) -> None:
    hand.add_step("charge")
    hand.choose("Cylinder on the scale", str(story.bought["Number on it"]))
    hand.fill({"Gross before": story.charged["Gross before"]})
    hand.send("Write the reading before")
    hand.fill({label: answer for label, answer in story.charged.items() if label != "Gross before"})
    hand.send(IN_BOOK, twice=True)
    hand.sees(*story.seen["charge"], "All of it was charged here into an evacuated system.")
    if story.slips:
        come_back_and_send_again(hand, story)


def come_back_and_send_again(hand: Hand, story: Story) -> None:
    """Back, and the button again: what was written counts once, and an empty form is turned back."""
    hand.back()
    with hand.turned_back(certainly=False):
        hand.press(IN_BOOK)
    hand.turn_to("Visits")
    hand.press("visit 1")


def visit(hand: Hand, story: Story) -> None:
    """From the plate to the hand-over."""
    arrive(hand, story)
    for words, answers in story.before:
        step(hand, story, words, answers)
    recover(hand, story)
    for words, answers in story.between:
        step(hand, story, words, answers)
    charge(hand, story)
    for words, answers in story.after:
        step(hand, story, words, answers)
    hand.press("Hand over")
    hand.fill(story.hand_over)
    hand.send("Hand over")
    hand.sees("handed over")
    assert hand.page.locator("main .photos img").count() == story.photos


def issue_papers(hand: Hand, story: Story) -> None:
    """Issue what goes with the car, and read both masses in the PDF of the first."""
    for number, words in enumerate(story.papers):
        hand.press(words)
        if story.on_label and words == "Issue the conversion label":
            hand.fill(story.on_label)
            hand.press("Enter it and show the label")
        hand.press("Issue it")
        if number == 0:
            printed = issued_pdf(hand)
            assert not [one for one in story.on_paper if one.replace(" ", "") not in printed], printed
        hand.press("visit 1")


def issued_pdf(hand: Hand) -> str:
    """Take the document as PDF and return its words, without any blanks."""
    with hand.page.expect_download() as taken:
        hand.page.get_by_role("link", name="Take the PDF", exact=True).tap()
    sheets = PdfReader(io.BytesIO(taken.value.path().read_bytes())).pages
    return re.sub(r"\s", "", "".join(sheet.extract_text() for sheet in sheets))


def read_statement(hand: Hand, story: Story) -> None:
    hand.turn_to("Statements")
    hand.press("This year")
    hand.sees(*story.in_statement)
    hand.turn_to("Findings")
    hand.press("Judge all again now")
    assert not hand.page.locator("main tbody", has_text="breach").count(), hand.text()
    hand.turn_to("Logbook")
    hand.sees(*story.held)


def come_again(hand: Hand, story: Story) -> None:
    """The plate typed otherwise is the same car, and the book knows what was charged."""
    hand.press("Start a visit")
    hand.fill({**story.arrival, "Plate": story.same_plate})
    hand.send("Start the visit")
    hand.sees(f"Visit 2, {story.arrival['Plate']}")


@pytest.mark.any_database
@pytest.mark.parametrize(
    ("story", "script"),
    [
        pytest.param(EUROPEAN_UNION, True, id="european-union"),
        pytest.param(INDIA, False, id="india-without-script"),
    ],
)
def test_a_car_is_handed_over_from_an_empty_book(
    phone: Phone, empty_server: Server, story: Story, script: bool
) -> None:
    """The third story, of the United States, is played where its presses are counted."""
    hand = phone(empty_server, story.zone, script=script)
    set_up(hand, empty_server, story)
    enter_certificate_and_instruments(hand, story)
    receive(hand, story)
    visit(hand, story)
    issue_papers(hand, story)
    read_statement(hand, story)
    if story.same_plate:
        come_again(hand, story)
