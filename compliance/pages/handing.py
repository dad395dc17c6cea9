"""Handing a file out, and what is reached by a secret address."""

from collections.abc import Callable, Iterator
from functools import wraps
from typing import TypeVar, cast

from django.http import HttpRequest, HttpResponse, HttpResponseBase, StreamingHttpResponse
from django.utils.http import content_disposition_header

from shop.pages.answers import too_often
from shop.people.tries import Tries

A = TypeVar("A", bound=HttpResponseBase)
V = TypeVar("V", bound=Callable[..., HttpResponseBase])
GUESSES = Tries("link", 60)


def unlisted(answer: A) -> A:
    """Return an answer that was reached by a secret address: nobody keeps it, passes the address on or lists it."""
    answer["Cache-Control"] = "no-store"
    answer["Referrer-Policy"] = "no-referrer"
    answer["X-Robots-Tag"] = "noindex"
    return answer


def seldom_guessed(view: V) -> V:
    """Let a secret address be asked for until too many that lead nowhere came from whoever asks."""

    @wraps(view)
    def guarded(request: HttpRequest, *args: object, **kwargs: object) -> HttpResponseBase:
        if seconds := GUESSES.wait_s(request):
            return unlisted(too_often(request, seconds, "Too many addresses that lead nowhere were asked for."))
        answer = view(request, *args, **kwargs)
        if answer.status_code == 404:
            GUESSES.count(request)
        return answer

    return cast(V, guarded)


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
