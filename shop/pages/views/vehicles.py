"""Vehicles and customers."""

from django.db.models import Count, Q
from django.http import HttpResponse, HttpResponseBase
from django.shortcuts import get_object_or_404, render
from django.urls import reverse
from django.views.decorators.http import require_GET, require_http_methods

from inventory.pages import comeback
from inventory.pages.access import writer_required
from inventory.pages.addphoto import Target, add_to
from inventory.pages.forms.act import page, read_back, see
from inventory.pages.joined import joined_page
from inventory.pages.links import Link
from inventory.pages.running import ActPage, Understood, run
from inventory.pages.tables.lines import AccountLines
from inventory.pages.tables.table import export
from shop.models import Conversion, Customer, Vehicle, Visit
from shop.pages.answers import data_file
from shop.pages.forms.vehicles import CustomerForm, OutOfSightForm, RemoveCustomerForm, VehicleForm
from shop.pages.found import find_vehicle
from shop.pages.middleware import ShopRequest
from shop.pages.tables.vehicles import CustomerTable, VehicleFilter, VehicleTable, content_words, vehicles_of
from shop.people import identity, privacy, vin
from shop.people.vehicles import add_vehicle, change_vehicle, out_of_sight
from shop.visits.inputs import inside_of
from shop.visits.log import record_of, with_log
from shop.visits.ports import ports_seen


@require_GET
def vehicles(request: ShopRequest) -> HttpResponseBase:
    """All vehicles and what the book has in them."""
    chosen = VehicleFilter(request)
    every = Vehicle.objects.filter(account__book=request.book, account__joined_to=None)
    new = Link("Enter a vehicle", reverse("vehicle-new", args=[request.access.slug]))
    table = VehicleTable(
        chosen.narrow(vehicles_of(request)),
        request=request,
        units=request.access.units,
        filter=chosen,
        unfiltered=every.count,
        none_act=new if request.access.may_write else None,
    )
    return export(request, table, "vehicles") or render(request, "shop/vehicles.html", {"table": table})


@require_GET
def vehicle(request: ShopRequest, number: int) -> HttpResponse:
    """One vehicle: what is in it by the book, what it is, its visits, its charge record and its lines."""
    one = find_vehicle(request, number)
    if one.account.number != number:
        return joined_page(request, identity.all_of(request.book).get(account__number=number).account, "vehicle")
    visits = with_log(Visit.objects.filter(vehicle=one)).order_by("-number")[:50]
    units = request.access.units
    context = {
        "vehicle": one,
        "content": content_words(one, units),
        "inside": inside_of(one, request.workshop),
        "vin_said": vin.said(one.vin) if one.vin else "",
        "twins": identity.twins_of(one),
        "visits": visits,
        "ports": ports_seen(visits),
        "record": [(visit, one) for visit in visits for one in record_of(visit, units)],
        "conversions": Conversion.objects.filter(Q(vehicle=one) | Q(visit__vehicle=one)).order_by("done_on"),
        "lines": AccountLines(one.account, request=request),
    }
    return render(request, "shop/vehicle.html", context)


@require_http_methods(["GET", "HEAD", "POST"])
@writer_required
def vehicle_edit(request: ShopRequest, number: int | None = None) -> HttpResponse:
    """Enter a vehicle, or put right what one is."""
    one = None if number is None else find_vehicle(request, number)
    begun = {name: request.GET.get(name, "") for name in ("customer", "registration")} if one is None else {}
    form = VehicleForm(
        request.POST or None, access=request.access, workshop=request.workshop, vehicle=one, initial=begun
    )
    if request.method == "POST" and form.is_valid():
        if one is not None:
            change_vehicle(one, **form.facts())
            return see(request, "vehicle", number)
        made = add_vehicle(request.workshop, **form.facts()).account.number
        return comeback.back(request, made) or see(request, "vehicle", made)
    return page(request, "shop/vehicle_form.html", form, vehicle=one)


@require_http_methods(["GET", "HEAD", "POST"])
@writer_required
def vehicle_out_of_sight(request: ShopRequest, number: int) -> HttpResponse:
    """Take a vehicle that is gone for good out of the book; always read back."""
    one = find_vehicle(request, number)
    form = OutOfSightForm(request.POST or None, access=request.access)
    content = content_words(one, request.access.units)
    return run(
        request,
        form,
        ActPage(),
        understood=lambda: Understood(
            [("Vehicle", one), ("In it by the book", content), ("Why", form.cleaned_data["why"])],
            always=True,
            facts=[content],
        ),
        write=lambda: out_of_sight(one, form.act(request.access, remark=form.cleaned_data["why"])),
        to=lambda _: ("vehicle", number),
        template="shop/vehicle_out_of_sight.html",
        context={"vehicle": one, "content": content},
    )


@writer_required
@require_http_methods(["GET", "HEAD", "POST"])
def vehicle_photo(request: ShopRequest, number: int) -> HttpResponse:
    """Add a photo to a vehicle."""
    found = find_vehicle(request, number)
    shows = ("plate", "label", "joint", "other")
    return add_to(request, Target(f"Add a photo of {found}", {"account": found.account}, shows, ("vehicle", number)))


@require_GET
@writer_required
def customers(request: ShopRequest) -> HttpResponse:
    """Customers, for those who write in the book."""
    rows = Customer.objects.filter(workshop=request.workshop).annotate(vehicle_count=Count("vehicles"))
    new = Link("Enter a customer", reverse("customer-new", args=[request.access.slug]))
    table = CustomerTable(rows, request=request, none_act=new)
    return render(request, "shop/customers.html", {"table": table})


@require_http_methods(["GET", "HEAD", "POST"])
@writer_required
def customer_new(request: ShopRequest) -> HttpResponse:
    """Enter a customer."""
    form = CustomerForm(request.POST or None, access=request.access)
    if request.method == "POST" and form.is_valid():
        made = Customer.objects.create(workshop=request.workshop, **form.cleaned_data)
        return comeback.back(request, made.pk) or see(request, "customer", made.pk)
    return page(request, "shop/customer_form.html", form)


@require_GET
@writer_required
def customer(request: ShopRequest, pk: int) -> HttpResponse:
    """One customer and the vehicles."""
    one = get_object_or_404(Customer, workshop=request.workshop, pk=pk)
    return render(request, "shop/customer.html", {"customer": one, "vehicles": one.vehicles.select_related("account")})


@require_GET
@writer_required
def customer_data(request: ShopRequest, pk: int) -> HttpResponse:
    """All that is stored about a customer, as a file for them."""
    one = get_object_or_404(Customer, workshop=request.workshop, pk=pk)
    return data_file(privacy.customer_data(one), f"customer-{pk}")


REMOVAL = (
    "Name, telephone, mail, note, plates, VINs, what the customer said and photos of the vehicles are removed for "
    "good, and these names are taken out of notes. Masses, lines and the chain stay as they are. "
    "Documents that were issued stay as issued."
)


@require_http_methods(["GET", "HEAD", "POST"])
@writer_required
def customer_remove(request: ShopRequest, pk: int) -> HttpResponse:
    """Remove what is known of a person; read back first. The book stays as it is."""
    one = get_object_or_404(Customer.objects.select_related("workshop__book"), workshop=request.workshop, pk=pk)
    form = RemoveCustomerForm(request.POST or None, access=request.access)
    if request.method == "POST" and form.is_valid():
        rows = [("Customer", one.name), ("Vehicles that keep their numbers only", one.vehicles.count())]
        if form.needs_read_back(always=True):
            return read_back(request, form, rows, then=REMOVAL)
        privacy.remove_customer(one)
        return see(request, "customer", pk)
    return page(request, "shop/customer_remove.html", form, customer=one)
