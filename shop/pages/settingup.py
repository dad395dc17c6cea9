"""A step of the set-up as its page shows it: among all of them, with a link to those that may be gone to."""

from django.http import HttpRequest, HttpResponse
from django.urls import reverse

from inventory.pages.forms.act import PlainForm, page
from shop.models import Workshop
from shop.people import setup


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
