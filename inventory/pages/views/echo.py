"""What a quantity was read as, while it is being typed."""

from collections.abc import Mapping
from typing import Any

from django.http import HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_GET

from inventory.pages.access import BookRequest
from inventory.pages.fields import quantity as fields
from inventory.pages.fields.quantity import barometer_in

FIELDS: Mapping[str, type[fields.QuantityField]] = {
    kind.kind_name: kind
    for kind in (
        fields.MassField,
        fields.PressureField,
        fields.TemperatureField,
        fields.VolumeField,
        fields.WaterCapacityField,
        fields.LengthField,
        fields.DurationField,
        fields.PercentField,
    )
}


@require_GET
def echo(request: BookRequest) -> HttpResponse:
    """Answer with the words for an ``<output>``: ``kind``, ``name`` and the inputs of that name, as on the form.

    The unit is the one chosen beside the text, whichever the form offers; ``absolute``: the field counts from nothing.
    A ``barometer`` typed on the same page is what gauges count from, instead of the air by the height.
    """
    kind, name = request.GET.get("kind", ""), request.GET.get("name", "")
    if kind not in FIELDS or not name.replace("_", "").replace("-", "").isalnum():
        return HttpResponse("Nothing here reads that.", status=400, content_type="text/plain; charset=utf-8")
    known: dict[str, Any] = {}
    if kind == "pressure":
        reference = "absolute" if request.GET.get("absolute") else "gauge"
        known = {
            "atmosphere_pa": request.access.atmosphere_pa,
            "air": request.access.air,
            "default_reference": reference,
            "reader": request.access.units,
        }
        if (typed_pa := barometer_in(request.GET)) is not None:
            known |= {"atmosphere_pa": typed_pa, "air": None}
    unit = request.GET.get(f"{name}_unit", "")
    field = FIELDS[kind](default_unit=unit, what=request.GET.get("what", "")[:40], known=known)
    typed = field.widget.value_from_datadict(request.GET, {}, name)
    return render(request, "_echo.html", {"echo": {**field.echo(name, typed), "cannot": field.doubt(typed)}})
