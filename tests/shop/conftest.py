"""What tests of the shop share.

media       a folder of their own for photos
in_pounds   the workshop in pounds, psi and Fahrenheit
us          that by the rules of the United States
sending     sending(client, person, taken=False): send(path, **fields) for a person, through the read-back
            page where one comes; the address is one below the workshop, or whole; with `taken` no form may be refused
send        that of the technician
send_once   the same without pressing the button of a read-back page
enter       enter(kind, replaces="", **fields): the form of a step of the test's own `visit`, sent once
"""

from collections.abc import Callable
from pathlib import Path
from typing import Any
from uuid import uuid4

import pytest
from django.test import Client

from tests.answers import confirm, words

HOME = "/w/port-ellery/"


@pytest.fixture
def media(settings: Any, tmp_path: Path) -> Path:
    settings.MEDIA_ROOT = tmp_path / "media"
    return tmp_path / "media"


@pytest.fixture
def in_pounds(workshop: Any) -> Any:
    workshop.mass_unit, workshop.pressure_unit, workshop.temperature_unit = "lb", "psi", "F"
    workshop.vacuum_unit, workshop.volume_unit = "micron", "fl oz"
    workshop.save()
    return workshop


@pytest.fixture
def us(in_pounds: Any) -> Any:
    in_pounds.jurisdiction = "us"
    in_pounds.save()
    return in_pounds


@pytest.fixture
def sending() -> Callable[..., Callable[..., Any]]:
    def of(client: Client, person: Any, *, taken: bool = False) -> Callable[..., Any]:
        def post(path: str, **fields: Any) -> Any:
            answer = confirm(client, HOME + path.removeprefix(HOME), {"doer": person.handle, **fields})
            assert not taken or answer.status_code == 303, words(answer)
            return answer

        return post

    return of


@pytest.fixture
def send(sending: Callable[..., Any], technician_client: Client, technician: Any) -> Any:
    return sending(technician_client, technician)


@pytest.fixture
def send_once(technician_client: Client, technician: Any) -> Callable[..., Any]:
    def post(path: str, **fields: Any) -> Any:
        return technician_client.post(HOME + path, {"key": str(uuid4()), "doer": technician.handle, **fields})

    return post


@pytest.fixture
def enter(send_once: Callable[..., Any], visit: Any) -> Callable[..., Any]:
    def post(kind: str, replaces: str = "", **fields: Any) -> Any:
        query = f"?replaces={replaces}" if replaces else ""
        return send_once(f"visits/{visit.number}/add/{kind}/{query}", **fields)

    return post
