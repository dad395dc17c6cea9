"""What the tests of visits share."""

from pathlib import Path
from typing import Any

import pytest


@pytest.fixture
def media(settings: Any, tmp_path: Path) -> Path:
    """A folder of their own for photos."""
    settings.MEDIA_ROOT = tmp_path / "media"
    return tmp_path / "media"
