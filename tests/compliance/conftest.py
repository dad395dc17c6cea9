"""What tests of issued documents share.

made_up     registers the made-up kind of document and returns its name
charge      the line of a charge
document    a document of the made-up kind that rests on it
issued      issued(about="visit:12", by=None, key=None, kind=None, at=None): a document of that kind, issued
"""

from collections.abc import Callable, Iterator
from datetime import datetime
from typing import Any
from uuid import UUID, uuid4

import pytest

from compliance.models import Document
from inventory.models import Entry
from tests.compliance import sample


@pytest.fixture
def made_up() -> Iterator[str]:
    from compliance.papers.builders import BUILDERS

    BUILDERS[sample.KIND] = sample.build
    yield sample.KIND
    del BUILDERS[sample.KIND]


@pytest.fixture
def issued(workshop: Any, technician: Any, made_up: str, now: datetime) -> Callable[..., Any]:
    from compliance.documents.issuing import issue

    def make(
        about: str = "visit:12",
        *,
        by: Any = None,
        key: UUID | None = None,
        kind: str = made_up,
        at: datetime | None = None,
        workshop: Any = workshop,
    ) -> Any:
        return issue(workshop, kind, about, by=by or technician, key=key or uuid4(), now=at or now)

    return make


@pytest.fixture
def charge(cylinder, vehicle_account, post) -> Entry:
    return post("charge", cylinder, vehicle_account, 450_000)


@pytest.fixture
def document(charge, issued) -> Document:
    return issued()
