"""The label of a cylinder, made to be printed and stuck on."""

import segno
from django.conf import settings
from django.http import HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.views.decorators.http import require_GET

from inventory.gases import catalogue
from inventory.measure.codes import label_address
from inventory.models import Cylinder
from inventory.pages.access import BookRequest
from inventory.pages.limitshown import content_cautions, limit_shown
from inventory.pages.records import cylinder_of
from inventory.shelf.queries import content_of


@require_GET
def label(request: BookRequest, number: int) -> HttpResponse:
    """Show a cylinder's label, made to be printed and stuck on."""
    found = cylinder_of(request, number)
    content = content_of(found.account)
    code = content[0] if content else found.refrigerant
    context = {
        "cylinder": found,
        "content": content,
        "code": code,
        "facts": catalogue.refrigerant(code),
        "limit": limit_shown(found, code, content[2] if content else 0, request.access, timezone.localtime()),
        "text": label_text(request, found),
        "cautions": content_cautions(code),
    }
    return render(request, "inventory/cylinder_label.html", context)


@require_GET
def label_code(request: BookRequest, number: int) -> HttpResponse:
    """Answer with the code of a cylinder's label as a picture: level Q, four white modules around, 0.8 mm each."""
    found = cylinder_of(request, number)
    code = segno.make(label_text(request, found), error="q", boost_error=False, micro=False)
    svg = code.svg_inline(scale=0.8, unit="mm", border=4, light="#fff", dark="#000")
    head = '<svg xmlns="http://www.w3.org/2000/svg"'
    body = svg if "xmlns=" in svg else svg.replace("<svg", head, 1)
    return HttpResponse(body, content_type="image/svg+xml")


def label_text(request: BookRequest, cylinder: Cylinder) -> str:
    """Return what the code says: the page of the cylinder, where people reach it."""
    return label_address(settings.ADDRESS or request.build_absolute_uri("/"), cylinder.label)
