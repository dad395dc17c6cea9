"""What the crawler takes for a page that reads back, and presses, is what a person presses."""

import random
from dataclasses import dataclass
from typing import Any
from uuid import uuid4

import pytest
from django.test import Client

from inventory.models import Entry
from tests.hostile import pressing


@dataclass
class Sender:
    """What the crawler's visitor does, by the client of the tests."""

    client: Client

    def send(self, at: str, sent: list[tuple[str, str]], files: object = None) -> Any:
        return Answer(self.client.post(at, dict(sent)))


class Answer:
    def __init__(self, response: Any) -> None:
        self.status, self.body = response.status_code, response.content


@pytest.mark.django_db
@pytest.mark.any_database
@pytest.mark.parametrize(
    "draws",
    [
        pytest.param(3, id="as read back"),
        pytest.param(31, id="never read back, then as read back"),
        pytest.param(32, id="something else than was read back, then as read back"),
        pytest.param(14, id="with another key, then as read back"),
        pytest.param(2, id="twice"),
    ],
)
def test_what_is_read_back_is_pressed_and_written_once(
    draws: int, technician_client: Client, workshop: Any, cylinder: Any, scale: Any
) -> None:
    at = f"/w/{workshop.slug}/cylinders/{cylinder.account_id}/weigh/"
    sent = [("gross", "9.1 kg"), ("scale", str(scale.number)), ("key", str(uuid4()))]
    lines, sender = Entry.objects.count(), Sender(technician_client)
    first = sender.send(at, sent)
    read_back = dict(pressing.read_back_of(first))
    assert read_back["key"] == dict(sent)["key"]
    assert read_back["gross"] == "9.1 kg"
    answers = list(pressing.pressed(sender, at, first, [], random.Random(draws)))
    assert 303 in [answer.status for _, answer in answers]
    assert Entry.objects.count() == lines + 1
    assert pressing.read_back_of(answers[-1][1]) == []
