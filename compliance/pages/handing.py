"""Handing a file out."""

from collections.abc import Iterator
from typing import TypeVar

from django.http import HttpResponse, HttpResponseBase, StreamingHttpResponse
from django.utils.http import content_disposition_header

A = TypeVar("A", bound=HttpResponseBase)


def unlisted(answer: A) -> A:
    """Return an answer that was reached by a secret address: nobody keeps it, passes the address on or lists it."""
    answer["Cache-Control"] = "no-store"
    answer["Referrer-Policy"] = "no-referrer"
    answer["X-Robots-Tag"] = "noindex"
    return answer


def handed_out(
    content: str | bytes | Iterator[str], content_type: str, name: str, *, beside: bool = True
) -> HttpResponseBase:
    """Return a file as an answer, to be kept beside the page under its name, or shown in its place."""
    kind = HttpResponse if isinstance(content, (str, bytes)) else StreamingHttpResponse
    return kind(
        content,
        content_type=content_type,
        headers={"Content-Disposition": content_disposition_header(beside, name) or ""},
    )
