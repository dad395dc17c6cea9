"""Which version this is. Pure."""

import tomllib
from functools import lru_cache
from pathlib import Path


@lru_cache(maxsize=1)
def version() -> str:
    """Return the version that `pyproject.toml` names."""
    project = tomllib.loads((Path(__file__).resolve().parents[2] / "pyproject.toml").read_text(encoding="utf-8"))
    return str(project["project"]["version"])
