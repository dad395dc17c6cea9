"""What a phone keeps for when the net is away: the files that every page needs, and their state.

The worker is a script of its own at the root, so that all pages are within its reach. What it keeps stands in its first
line: a browser that sees another line there takes the new worker, and with it all files anew.
"""

import json
from collections.abc import Iterable
from functools import lru_cache
from hashlib import sha256
from pathlib import Path

from django.conf import settings
from django.contrib.staticfiles import finders
from django.templatetags.static import static
from django.urls import reverse

OWN = Path(__file__).resolve().parents[1] / "static"
HTMX = "django_htmx/htmx-2.min.js"
WORKER = "shop/offline/worker.js"
PAGES = ("base.html", "shop/net_away.html")


@lru_cache(maxsize=1)
def worker_script() -> str:
    """Return the script of the worker, with the files that it keeps and their state in its first line."""
    files = shell_files()
    kept = {"version": state_of(files), "files": [reverse("net-away"), *map(static, _names(files))]}
    return f"const SHELL = {json.dumps(kept)};\n{(OWN / WORKER).read_text()}"


def shell_files() -> dict[str, Path]:
    """Return the files that every page may ask for, by their names."""
    found = {path.relative_to(OWN).as_posix(): path for path in sorted((OWN / "shop").rglob("*.*"))}
    htmx = finders.find(HTMX)
    pages = {f"templates/{name}": Path(settings.BASE_DIR) / "templates" / name for name in PAGES}
    return {**found, HTMX: Path(str(htmx)), **pages}


def state_of(files: dict[str, Path]) -> str:
    """Return a digest of names and contents: another one where any file has changed."""
    whole = sha256()
    for name, path in sorted(files.items()):
        whole.update(name.encode() + b"\0" + sha256(path.read_bytes()).digest())
    return whole.hexdigest()[:16]


def _names(files: Iterable[str]) -> list[str]:
    """Return what a page asks for by name: neither the worker itself nor a template."""
    return [name for name in files if name != WORKER and not name.startswith("templates/")]
