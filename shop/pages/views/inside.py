"""The inside volume of a vehicle, narrowed from its visit; the ranges by class, in the settings."""

from django.contrib import messages
from django.http import HttpResponse, HttpResponseRedirect
from django.urls import reverse
from django.views.decorators.http import require_http_methods

from inventory.pages.access import owner_required, writer_required
from inventory.pages.forms.act import page, see
from shop.pages.forms.inside import InsideForm, RangesForm
from shop.pages.found import find_visit
from shop.pages.middleware import ShopRequest
from shop.people import vehicles
from shop.visits.inputs import inside_of, ranges_of


@require_http_methods(["GET", "HEAD", "POST"])
@writer_required
def visit_inside(request: ShopRequest, number: int) -> HttpResponse:
    """Say what is known of the inside volume; the vehicle's record keeps it, and the visit is shown again."""
    one = find_visit(request, number)
    one.vehicle.account.book = request.book
    ranges = ranges_of(request.workshop)
    initial = InsideForm.initial_of(one.vehicle)
    form = InsideForm(request.POST or None, access=request.access, ranges=ranges, initial=initial)
    step = request.GET.get("step", "")
    place = f"#step-{step}" if step.isdecimal() and len(step) < 19 else ""
    back = reverse("visit", args=[request.access.slug, number]) + place
    if request.method == "POST" and form.is_valid():
        vehicles.change_vehicle(one.vehicle, **form.facts(one.vehicle))
        return HttpResponseRedirect(back, status=303)
    said = inside_of(one.vehicle, request.workshop)
    return page(request, "shop/visit_inside.html", form, visit=one, back_to=back, inside=said)


@require_http_methods(["GET", "HEAD", "POST"])
@owner_required
def ranges(request: ShopRequest) -> HttpResponse:
    """Change the ranges of inside volumes by class."""
    shop = request.workshop
    form = RangesForm(request.POST or None, access=request.access, initial=RangesForm.initial_of(ranges_of(shop)))
    if request.method == "POST" and form.is_valid():
        shop.inside_ranges = form.changed()
        shop.save(update_fields=["inside_ranges"])
        messages.info(request, "Kept.")
        return see(request, "settings")
    return page(request, "shop/settings_form.html", form, title="Inside volumes by class")
