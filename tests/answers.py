"""What every test of a page does: read the words of an answer, and press the button of the page that reads back."""

from html import unescape
from typing import Any
from uuid import uuid4

from django.test import Client


def words(response: Any) -> str:
    """Return a page as one line, with entities and narrow spaces as a reader sees them."""
    return " ".join(unescape(response.content.decode()).split())


def confirm(client: Client, at: str, data: dict[str, Any] | None = None, **fields: Any) -> Any:
    """Send a form, with a key of its own where it has none, and the read-back page where one answers it."""
    data = {"key": str(uuid4()), **(data or {}), **fields}
    answer = client.post(at, data)
    if answer.status_code != 200 or "signature" not in (answer.context or {}):
        return answer
    return client.post(at, {**data, "read_back": answer.context["signature"]})


def read_back(client: Client, at: str, data: dict[str, Any] | None = None, **fields: Any) -> tuple[Any, Any]:
    """Send a form that must be read back first; return that page and what answers its button."""
    data = {"key": str(uuid4()), **(data or {}), **fields}
    shown = client.post(at, data)
    assert shown.status_code == 200, words(shown)
    return shown, client.post(at, {**data, "read_back": shown.context["signature"]})
