"""What tests of the statement share.

year    the acceptance year, written into the book; its entries by name
"""

from typing import Any

import pytest

from tests.compliance.builders import port_ellery_2025


@pytest.fixture
def year(book: Any, clock: Any) -> dict[str, Any]:
    return port_ellery_2025(book, clock)
