"""What tests of the shop's pages share.

us          the workshop in pounds, psi and Fahrenheit, by the rules of the United States
sending     sending(client, person): send(path, **fields) for a person, through the read-back page where one comes
send        that of the technician
"""

from collections.abc import Callable
from typing import Any
from uuid import uuid4

import pytest
from django.test import Client

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
        def send(path: str, **fields: Any) -> Any:
            fields = {"key": str(uuid4()), "doer": person.handle, **fields}
            response = client.post(HOME + path, fields)
            if response.status_code == 200 and b'name="read_back"' in response.content:
                response = client.post(HOME + path, {**fields, "read_back": response.context["signature"]})
            return response

        return send

    return of


@pytest.fixture
def send(sending: Callable[..., Any], technician_client: Client, technician: Any) -> Any:
    return sending(technician_client, technician)
