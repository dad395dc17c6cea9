"""What tests of issued documents share.

made_up     registers the made-up kind of document and returns its name
issued      issued(about="visit:12", by=None, key=None, kind=None, at=None): a document of that kind, issued
"""

from collections.abc import Callable, Iterator
from datetime import datetime
from typing import Any
from uuid import UUID, uuid4

import pytest

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
