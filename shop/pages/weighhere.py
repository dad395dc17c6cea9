"""The reading before at the head of a cylinder's page: whoever scans its label stands at the scale already."""

from django.http import HttpRequest
from django.template.loader import render_to_string
from django.urls import reverse
from django.utils.safestring import SafeString, mark_safe

from inventory.book import weighing
from inventory.gases.cautions import cautions_for
from inventory.models import Cylinder
from inventory.shelf.queries import scales_of, standing_here
from shop.pages.forms.weigh import weigh_form
from shop.pages.found import remembered_scale
from shop.pages.middleware import ShopRequest

NOTHING = SafeString("")


def weigh_here(request: HttpRequest, about: str) -> SafeString:
    """Return the form of a reading before for ``cylinder-head:7``; empty where it is open or not weighed here."""
    kind, _, number = about.partition(":")
    if kind != "cylinder-head" or not request.access.may_write:  # type: ignore[attr-defined] # set with the workshop
        return NOTHING
    return _form(request, int(number))  # type: ignore[arg-type] # the same


def _form(request: ShopRequest, number: int) -> SafeString:
    cylinder: Cylinder | None = standing_here(request.book).filter(account__number=number).first()
    scales = scales_of(request.book)
    if cylinder is None or not scales or not cylinder.is_weighed or weighing.open_before(cylinder) is not None:
        return NOTHING
    args = [request.access.slug, number]
    scale = str(remembered_scale(request, scales))
    echo = reverse("cylinder-weigh-echo", args=args)
    kind = weigh_form(scales, echo=echo, folded=bool(scale))
    context = {
        "form": kind(access=request.access, initial={"scale": scale}),
        "at": reverse("cylinder-weigh", args=args),
        "cautions": cautions_for("weigh"),
        "cautions_of": f"cylinder:{number}",
    }
    return mark_safe(render_to_string("shop/_weigh_here.html", context, request))  # noqa: S308 - a template's markup
