"""Weigh before, charge, weigh after: what it takes on a phone, from the label, from the list, in the visit.

Every box that is typed into counts as a press, and so do both taps on a list; a page counts whether it is loaded or
swapped in, the one that answers the scanned label too.
"""

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from itertools import pairwise
from pathlib import Path

import pytest
from playwright.sync_api import Browser

from .conftest import Server, lines_of
from .hand import Answer, Hand
from .stories import UNITED_STATES, Story, charge_only
from .test_the_way_through import enter_certificate_and_instruments, new_phone, receive, set_up, step

pytestmark = pytest.mark.any_database
MOST_PRESSES, MOST_LOADS = 8, 3
MOST_LOADS_OF_A_VISIT = 24
README = Path(__file__).parents[2] / "README.md"
BEFORE, AFTER, WRITE = "Write the before", "Gross after", "Write it in the book"


@dataclass(frozen=True)
class Took:
    """What one act took of a person."""

    presses: int
    characters: int
    loads: int


@pytest.fixture
def hand(browser: Browser, empty_server: Server) -> Iterator[Hand]:
    with new_phone(browser, empty_server, UNITED_STATES.zone) as one:
        yield one


def counted(hand: Hand, act: Callable[[], None]) -> Took:
    presses, characters, loads = hand.presses, hand.characters, hand.loads
    act()
    return Took(hand.presses - presses, hand.characters - characters, hand.loads - loads)


def by_the_visit(hand: Hand) -> None:
    hand.press("Charge")
    hand.write("Gross before", "36", ounces="6.5")
    hand.press(BEFORE)
    hand.sees("stop when the scale shows 35 lb 2.5 oz gross")
    hand.write(AFTER, "36", ounces="0.5")
    hand.press(WRITE)


def by_the_label(hand: Hand, label: str) -> None:
    hand.open(f"/c/{label}/")
    at_the_cylinder(hand, ("36", "0.5"), ("35", "10.5"))


def by_the_list(hand: Hand, serial: str) -> None:
    hand.press(serial)
    at_the_cylinder(hand, ("35", "10.5"), ("35", "4.5"))


def at_the_cylinder(hand: Hand, before: tuple[str, str], after: tuple[str, str]) -> None:
    hand.write("Gross on the scale", before[0], ounces=before[1])
    hand.press("Enter the before")
    hand.sees("stop when the scale shows 35 lb 2.5 oz gross")
    hand.write("Gross on the scale", after[0], ounces=after[1])
    hand.press(WRITE)


def go_on(hand: Hand, answers: Mapping[str, Answer], following: str, button: str = "Write it and go on") -> None:
    """Fill in a step, write it and go straight on with another."""
    hand.fill(answers)
    hand.then(following)
    hand.send(button)


def conversion(hand: Hand, story: Story) -> None:
    """A whole visit, from the plate to the hand-over; its empty cylinder and its gauges are in the book already."""
    hand.press("Start a visit")
    legs = ("recovery", story.recovered), ("charge", story.charged)
    works = [*story.before, legs[0], *story.between, legs[1], *story.after, ("hand-over", story.hand_over)]
    go_on(hand, story.arrival, works[0][0], "Start it and go on")
    for (words, answers), (following, _) in pairwise(works):
        if words == "recovery":
            leg(hand, story.recovered, following)
        elif words == "charge":
            leg(hand, story.charged, following)
        else:
            go_on(hand, answers, following)
    hand.fill(story.hand_over)
    hand.send("Hand over")


def leg(hand: Hand, answers: Mapping[str, Answer], following: str) -> None:
    """Both readings of a leg, and on: the one cylinder that fits is chosen already."""
    hand.fill({"Gross before": answers["Gross before"]})
    hand.send("Write the before")
    go_on(hand, {label: one for label, one in answers.items() if label != "Gross before"}, following)


def test_a_charge_by_each_way_takes_eight_presses_and_three_pages(hand: Hand, empty_server: Server) -> None:
    story = charge_only(UNITED_STATES)
    found = {"Set up, to the first scale": counted(hand, lambda: set_up(hand, empty_server, story))}
    enter_certificate_and_instruments(hand, story)
    found["Receive a cylinder, its supplier entered too"] = counted(hand, lambda: receive(hand, story))
    hand.turn_to("Logbook")
    hand.press("Start a visit")
    hand.fill(story.arrival)
    hand.send("Start the visit")
    for words, answers in story.before:
        step(hand, story, words, answers)
    label, serial = lines_of(empty_server, "select label, serial from inventory_cylinder")[0]
    found["Charge, in the visit"] = counted(hand, lambda: by_the_visit(hand))
    hand.sees("Visit 1", "Charged")
    found["Charge, from the label scanned"] = counted(hand, lambda: by_the_label(hand, label))
    hand.sees("Visit 1", "Charged")
    hand.turn_to("Cylinders")
    found["Charge, from the list of cylinders"] = counted(hand, lambda: by_the_list(hand, serial))
    hand.sees("Visit 1", "Charged")
    assert lines_of(empty_server, "select count(*) from inventory_movement where cause = 'charge'") == [(3,)]
    for took in (one for act, one in found.items() if act.startswith("Charge")):
        assert took.presses <= MOST_PRESSES, found
        assert took.loads <= MOST_LOADS, found
    rows = "\n".join(f"| {act} | {one.presses} | {one.characters} | {one.loads} |" for act, one in found.items())
    assert rows in README.read_text(), f"README.md has other figures:\n{rows}"


def test_a_whole_conversion_takes_under_twenty_five_pages(hand: Hand, empty_server: Server) -> None:
    story = UNITED_STATES
    set_up(hand, empty_server, story)
    enter_certificate_and_instruments(hand, story)
    hand.turn_to("Settings")
    hand.press("Enter an instrument")
    hand.fill(story.gauges[0])
    hand.press("Keep it")
    receive(hand, story)
    hand.turn_to("Logbook")
    hand.press("Receive a cylinder")
    hand.press("Recovery cylinder", under="It comes empty")
    hand.fill({**story.empty, "What it is for": "R-12"})
    hand.send("Receive it")
    hand.turn_to("Logbook")
    took = counted(hand, lambda: conversion(hand, story))
    hand.sees("handed over")
    log = " ".join((hand.page.locator("main").text_content() or "").split())  # the older entries are folded
    for words in (*story.seen["recovery"], *story.seen["conversion"], *story.seen["charge"]):
        assert words in log
    assert took.loads <= MOST_LOADS_OF_A_VISIT, took
    row = f"| A whole conversion, from the plate to the hand-over | {took.presses} | {took.characters} | {took.loads} |"
    assert row in README.read_text(), f"README.md has other figures:\n{row}"
