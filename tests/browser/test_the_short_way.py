"""What the acts of a day take on a phone: to weigh before, to charge, to weigh after, from wherever one begins.

Every box that is typed into counts as a press, and so do both taps on a list; a page counts whether it is loaded or
swapped in, the one that answers the scanned label too. What a person takes over the set-up is reckoned from the words
that the middle of each page shows as it comes and from stated figures; one charge is played at such a pace.
"""

import time
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from itertools import pairwise
from pathlib import Path

import pytest
from playwright.sync_api import Browser

from .conftest import Server, lines_of
from .hand import Answer, Hand, Pace
from .stories import UNITED_STATES, Story, charge_only
from .test_the_way_through import (
    enter_certificate_and_instruments,
    issue_papers,
    new_phone,
    read_statement,
    receive,
    set_up,
    set_up_to_the_scale,
    step,
)

MOST_PRESSES, MOST_LOADS = 8, 3
MOST_LOADS_OF_A_VISIT = 24
MOST_MINUTES_OF_A_SET_UP = 4
WORDS_A_MINUTE, KEY_S = 200, 0.4  # judgement, no source: somebody new to the pages, who reads every line once
PACE = Pace(page=1.5, press=0.7, key=0.3)  # the same: somebody who does it every day
README = Path(__file__).parents[2] / "README.md"
BEFORE, AFTER, WRITE = "Write the reading before", "Gross after", "Write it in the book"


@dataclass(frozen=True)
class Took:
    """What one act took of a person; `words` of the lines that were shown."""

    presses: int
    characters: int
    loads: int
    words: int

    @property
    def minutes(self) -> float:
        """How long somebody takes over reading, typing and pressing."""
        return self.words / WORDS_A_MINUTE + (self.characters + self.presses) * KEY_S / 60

    def row(self, act: str) -> str:
        """Return its row of the table."""
        return f"| {act} | {self.presses} | {self.characters} | {self.loads} |"


@pytest.fixture
def hand(browser: Browser, empty_server: Server) -> Iterator[Hand]:
    with new_phone(browser, empty_server, UNITED_STATES.zone) as one:
        yield one


def counted(hand: Hand, act: Callable[[], None]) -> Took:
    before = hand.presses, hand.characters, hand.loads, hand.words
    act()
    after = hand.presses, hand.characters, hand.loads, hand.words
    return Took(*(late - early for early, late in zip(before, after, strict=True)))


def written_down(*rows: str) -> None:
    """See that README.md says so."""
    missing = [row for row in rows if row not in README.read_text()]
    assert not missing, "README.md has other figures:\n" + "\n".join(missing)


def set_up_and_weigh(hand: Hand, server: Server, story: Story) -> None:
    """From the code on the console to a cylinder that stood here, weighed: nothing but a phone's way is put off."""
    set_up_to_the_scale(hand, server, story)
    hand.fill({"What it is called": "G1", "Smallest step it shows": "1"})
    hand.press("Add the gauge")
    hand.press("Go on")
    hand.press("Later")
    hand.press("Enter a cylinder")
    hand.press("Single-trip cylinder", under="Stood here before the book began")
    hand.fill({"Number on it": "B-1180", "What is in it": "R-134a", "Empty mass": ("6 6.5", "lb and oz")})
    hand.fill({"Gross now": ("20 3.0", "lb and oz")})
    hand.send("Receive it")
    hand.sees("B-1180")


def alone(hand: Hand, serial: str) -> None:
    """Weigh a cylinder by itself, from the list."""
    hand.press(serial)
    hand.write("Gross on the scale", "35 4.5")
    hand.press("Only a check weighing")
    hand.send("Enter the check")
    hand.sees_not("On the scale since")


def bring_in_empty(hand: Hand, answers: Mapping[str, Answer]) -> None:
    """A recovery cylinder comes without gas."""
    hand.turn_to("Logbook")
    hand.press("Receive a cylinder")
    hand.press("Recovery cylinder", under="It comes empty")
    hand.fill(answers)
    hand.send("Receive it")


def recovery(hand: Hand) -> None:
    hand.press("Recover")
    hand.write("Gross before", "13 6.0")
    hand.press(BEFORE)
    hand.choose("Why it stopped", "done")
    hand.write(AFTER, "14 8.0")
    hand.send(WRITE)


def by_the_visit(hand: Hand) -> None:
    hand.press("Charge")
    hand.write("Gross before", "36 6.5")
    hand.press(BEFORE)
    hand.sees("stop when the scale shows 35 lb 2.5 oz gross")
    hand.write(AFTER, "36 0.5")
    hand.press(WRITE)


def by_the_label(hand: Hand, label: str) -> None:
    hand.open(f"/c/{label}/")
    at_the_cylinder(hand, hand.write_by_key, ("36", "0.5"), ("35", "10.5"))


def by_the_list(hand: Hand, serial: str) -> None:
    hand.press(serial)
    at_the_cylinder(hand, hand.write, ("35 10.5",), ("35 4.5",))


def at_the_cylinder(hand: Hand, typed: Callable[..., None], before: tuple[str, ...], after: tuple[str, ...]) -> None:
    typed("Gross on the scale", *before)
    hand.press("Write the reading before")
    hand.sees("stop when the scale shows 35 lb 2.5 oz gross")
    typed("Gross on the scale", *after)
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
    hand.send("Write the reading before")
    go_on(hand, {label: one for label, one in answers.items() if label != "Gross before"}, following)


@pytest.mark.any_database
def test_the_set_up_reads_and_types_in_under_four_minutes(hand: Hand, empty_server: Server) -> None:
    took = counted(hand, lambda: set_up_and_weigh(hand, empty_server, charge_only(UNITED_STATES)))
    assert lines_of(empty_server, "select count(*) from inventory_weighing") == [(1,)]
    assert took.minutes < MOST_MINUTES_OF_A_SET_UP, took
    written_down(took.row("Set up, to the first cylinder weighed"))
    written_down(f"{WORDS_A_MINUTE} words a minute and {KEY_S} s a key", f"under {MOST_MINUTES_OF_A_SET_UP} minutes")


@pytest.mark.any_database
def test_a_charge_by_each_way_and_a_recovery_take_eight_presses_and_three_pages(
    hand: Hand, empty_server: Server, record_testsuite_property: Callable[[str, object], None]
) -> None:
    story = charge_only(UNITED_STATES)
    set_up(hand, empty_server, story)
    enter_certificate_and_instruments(hand, story)
    found = {"Receive a cylinder, its supplier entered too": counted(hand, lambda: receive(hand, story))}
    start_visit(hand, story.arrival)
    for words, answers in story.before:
        step(hand, story, words, answers)
    label, serial = lines_of(empty_server, "select label, serial from inventory_cylinder")[0]
    found["Charge, in the visit"] = counted(hand, lambda: by_the_visit(hand))
    hand.sees("Visit 1", "Charged")
    hand.pace, began = PACE, time.monotonic()
    found["Charge, from the label scanned"] = counted(hand, lambda: by_the_label(hand, label))
    record_testsuite_property("seconds of a charge at a person’s pace", time.monotonic() - began)
    hand.pace = Pace(0, 0, 0)
    hand.sees("Visit 1", "Charged")
    hand.turn_to("Cylinders")
    found["Charge, from the list of cylinders"] = counted(hand, lambda: by_the_list(hand, serial))
    hand.sees("Visit 1", "Charged")
    assert lines_of(empty_server, "select count(*) from inventory_movement where cause = 'charge'") == [(3,)]
    hand.turn_to("Cylinders")
    found["Weigh a cylinder by itself, from the list"] = counted(hand, lambda: alone(hand, serial))

    bring_in_empty(hand, {**story.empty, "Empty mass": ("13 6.0", "lb and oz"), "What it is for": "R-134a"})
    start_visit(hand, {**story.arrival, "Plate": "RV 5530"})
    step(hand, story, *story.before[0])
    found["Recovery, in the visit"] = counted(hand, lambda: recovery(hand))
    hand.sees("Recovered 1 lb 2.0 oz R-134a")
    for act, took in found.items():
        if act.startswith(("Charge", "Recovery")):
            assert took.presses <= MOST_PRESSES, found
            assert took.loads <= MOST_LOADS, found
    written_down(*(one.row(act) for act, one in found.items()))
    written_down(f"is {hand.paused:.1f} s of a person")


def start_visit(hand: Hand, arrival: Mapping[str, Answer]) -> None:
    hand.turn_to("Logbook")
    hand.press("Start a visit")
    hand.fill(arrival)
    hand.send("Start the visit")


def test_a_whole_conversion_takes_under_twenty_five_pages_and_leads_to_its_papers(
    hand: Hand, empty_server: Server
) -> None:
    """From an empty book to a car on another gas, its label and record, and both masses in the statement."""
    story = UNITED_STATES
    set_up(hand, empty_server, story)
    enter_certificate_and_instruments(hand, story)
    hand.press("Enter an instrument")
    hand.fill(story.gauges[0])
    hand.press("Keep it")
    receive(hand, story)
    bring_in_empty(hand, {**story.empty, "What it is for": "R-12"})
    hand.turn_to("Logbook")
    took = counted(hand, lambda: conversion(hand, story))
    hand.sees("handed over")
    log = " ".join((hand.page.locator("main").text_content() or "").split())  # the older entries are folded
    seen = [words for step, said in story.seen.items() if step != "label read" for words in said]
    assert [words for words in seen if words not in log] == []
    assert hand.page.locator("main .photos img").count() == story.photos
    assert took.loads <= MOST_LOADS_OF_A_VISIT, took
    written_down(took.row("A whole conversion, from the plate to the hand-over"))
    issue_papers(hand, story)
    read_statement(hand, story)
