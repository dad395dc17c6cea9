"""Answers that several views give: a page by its name, stored data as a file, a session begun."""

import time

from django.conf import settings
from django.contrib.auth import login
from django.http import HttpRequest, HttpResponse, HttpResponseRedirect, JsonResponse
from django.urls import reverse

from shop.models import User

BACKEND = "django.contrib.auth.backends.ModelBackend"


def to(name: str, *args: object) -> HttpResponse:
    """Answer 303 to a page by its name."""
    return HttpResponseRedirect(reverse(name, args=args), status=303)


def let_in(request: HttpRequest, person: User) -> None:
    """Begin the person's session and note when it ends."""
    login(request, person, backend=BACKEND)
    request.session["ends"] = time.time() + settings.SESSION_COOKIE_AGE


def data_file(data: dict[str, object], name: str) -> HttpResponse:
    """Return stored data as a JSON file."""
    answer = JsonResponse(data, json_dumps_params={"ensure_ascii": False, "indent": 2})
    answer["Content-Disposition"] = f'attachment; filename="{name}.json"'
    answer["Cache-Control"] = "no-store"
    return answer
