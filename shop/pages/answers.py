"""Answers that several views give: a page by its name, stored data as a file, a session begun, a step of the set-up,
what a reading of the scale means while it is still being typed.
"""

import time
from collections.abc import Callable, Sequence
from datetime import UTC, datetime

from django.conf import settings
from django.contrib.auth import login
from django.http import HttpRequest, HttpResponse, HttpResponseRedirect, JsonResponse
from django.shortcuts import render
from django.urls import reverse

from inventory.book.refusals import LedgerError
from inventory.measure.spoken import in_own_units
from inventory.pages.forms.act import BookForm, PlainForm, page
from shop.models import User, Workshop
from shop.pages.middleware import ShopRequest
from shop.people import hands, setup

BACKEND = "django.contrib.auth.backends.ModelBackend"


def to(name: str, *args: object) -> HttpResponse:
    """Answer 303 to a page by its name."""
    return HttpResponseRedirect(reverse(name, args=args), status=303)


def let_in(request: HttpRequest, person: User) -> None:
    """Begin the person's session and note when it ends."""
    here = request.session.get(hands.HERE, {})  # another person's session would take it along
    login(request, person, backend=BACKEND)
    hands.signed_in_here(request.session, person, here)
    _ends(request, time.time() + settings.SESSION_COOKIE_AGE)


def hand_to(request: ShopRequest, person: User) -> None:
    """Go on as another person who gave a PIN, in this workshop; the session ends when it would have ended."""
    here, ends = request.session[hands.HERE], request.session.get("ends", 0)
    login(request, person, backend=BACKEND)
    request.session.update({hands.HERE: here, hands.BY_PIN: hands.kept_of(person, request.workshop)})
    _ends(request, ends)


def _ends(request: HttpRequest, at: float) -> None:
    """End the session at a time, however much is kept in it until then."""
    request.session["ends"] = at
    request.session.set_expiry(datetime.fromtimestamp(at, UTC))


def data_file(data: dict[str, object], name: str) -> HttpResponse:
    """Return stored data as a JSON file."""
    answer = JsonResponse(data, json_dumps_params={"ensure_ascii": False, "indent": 2})
    answer["Content-Disposition"] = f'attachment; filename="{name}.json"'
    answer["Cache-Control"] = "no-store"
    return answer


def too_often(request: HttpRequest, seconds: int, reason: str, again: str = "/") -> HttpResponse:
    """Answer 429: what was asked too often, and how long to wait."""
    minutes = -(-seconds // 60)
    wait = f"{minutes} minute{'' if minutes == 1 else 's'}"
    answer = render(request, "429.html", {"reason": reason, "wait": wait, "again": again}, status=429)
    answer["Retry-After"] = str(seconds)
    return answer


def show_step(request: HttpRequest, form: PlainForm, step: str, **context: object) -> HttpResponse:
    """Show a step among all of them; those that may be gone to are links."""
    shop: Workshop | None = getattr(request, "workshop", None)
    became = setup.steps_of(shop) if shop else {}
    steps = [
        {
            "name": "units" if name == "rules" else name,
            "here": name == step,
            "became": setup.DONE if name == "owner" and step != "owner" else became.get(name, setup.OPEN),
            "href": reverse(f"set-up-{name}", args=[shop.slug]) if shop and name != "owner" else "",
        }
        for name in setup.STEPS
    ]
    number = setup.STEPS.index(step) + 1
    return page(request, f"shop/set_up_{step}.html", form, steps=steps, number=number, shop=shop, **context)


def echoed(
    request: ShopRequest, form: BookForm, name: str, told: Callable[[], Sequence[str] | None] = lambda: None
) -> HttpResponse:
    """Answer for the field `name`; `told` says what the readings tell together, None where they cannot yet."""
    field = form.fields.get(name)
    if field is None:
        return render(request, "_echo.html", {"echo": {}})
    typed = field.widget.value_from_datadict(request.GET, form.files, name)
    echo: dict[str, object] = {**field.echo(name, typed), "cannot": field.doubt(typed)}  # type: ignore[attr-defined]
    form.is_valid()
    try:
        said = told()
    except LedgerError as error:
        return render(request, "_echo.html", {"echo": {"cannot": in_own_units(str(error), request.access.units)}})
    wrong = [str(words) for words in form.errors.get(name, ())]
    if said:
        echo |= {"words": said[0], "follows": [*said[1:], *wrong]}
    elif echo.get("words") and wrong:
        echo = {"cannot": wrong[0]}
    return render(request, "_echo.html", {"echo": echo})
