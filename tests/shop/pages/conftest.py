"""What tests of the shop's pages share.

us          the workshop in pounds, psi and Fahrenheit, by the rules of the United States
sending     sending(client, person): send(path, **fields) for a person, through the read-back page where one comes
send        that of the technician
"""

from collections.abc import Callable
from typing import Any

import pytest
from django.test import Client

from tests.answers import confirm

HOME = "/w/port-ellery/"


@pytest.fixture
def us(workshop: Any) -> Any:
    workshop.mass_unit, workshop.pressure_unit, workshop.temperature_unit = "lb", "psi", "F"
    workshop.jurisdiction = "us"
    workshop.save()
    return workshop


@pytest.fixture
def sending() -> Callable[[Client, Any], Callable[..., Any]]:
    def of(client: Client, person: Any) -> Callable[..., Any]:
        return lambda path, **fields: confirm(client, HOME + path, doer=person.handle, **fields)

    return of


@pytest.fixture
def send(sending: Callable[..., Any], technician_client: Client, technician: Any) -> Any:
    return sending(technician_client, technician)
