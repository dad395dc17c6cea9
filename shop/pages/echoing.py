"""What a reading of the scale means while it is still being typed: the content of the ``<output>`` beside it."""

from collections.abc import Callable, Sequence

from django.http import HttpResponse
from django.shortcuts import render

from inventory.book.refusals import LedgerError
from inventory.pages.forms.act import BookForm
from shop.pages.middleware import ShopRequest


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
        return render(request, "_echo.html", {"echo": {"cannot": str(error)}})
    wrong = [str(words) for words in form.errors.get(name, ())]
    if said:
        echo |= {"words": said[0], "follows": [*said[1:], *wrong]}
    elif echo.get("words") and wrong:
        echo = {"cannot": wrong[0]}
    return render(request, "_echo.html", {"echo": echo})
