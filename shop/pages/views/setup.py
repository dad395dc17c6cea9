"""The set-up: the owner and the workshop outside any workshop, its further steps below its address.

It goes on where it was left. Each further step is done, or put off by "Later"; the Logbook lists for the owner what is
owed of it, with a link to the step. Going back shows what stands; sending a step again writes nothing twice.
"""

from collections.abc import Callable
from functools import wraps
from typing import Any

from django.contrib import messages
from django.contrib.auth import authenticate
from django.contrib.auth.decorators import login_not_required
from django.db import IntegrityError, transaction
from django.http import Http404, HttpRequest, HttpResponse, HttpResponseRedirect
from django.urls import reverse
from django.views.decorators.cache import never_cache
from django.views.decorators.debug import sensitive_post_parameters
from django.views.decorators.http import require_http_methods

from inventory.book import ledger
from inventory.models import Cylinder
from inventory.pages.access import owner_required
from inventory.pages.forms.act import PlainForm, page, see
from shop.models import Membership, User, Workshop
from shop.pages.forms.account import OwnerForm, RulesForm, WorkshopForm
from shop.pages.forms.settings import ScaleForm
from shop.pages.middleware import ShopRequest
from shop.pages.views.account import let_in, to
from shop.people import setup

PAGES = require_http_methods(["GET", "HEAD", "POST"])
SHOWN_AT_MOST = 20


@never_cache
@sensitive_post_parameters("password")
@PAGES
@login_not_required
def set_up(request: HttpRequest) -> HttpResponse:
    """Lead the first person through owner and workshop, then to the step that is next; nobody else has a page here."""
    if not request.user.is_authenticated:
        return _owner(request)
    assert isinstance(request.user, User)  # noqa: S101 signed in
    begun = setup.begun_by(request.user)
    if begun is None and not alone(request.user):
        raise Http404("The book has been set up.")
    if begun is None or request.method == "POST":
        return _workshop(request, request.user, begun)
    step = setup.next_step(begun)
    return to(f"set-up-{step}", begun.slug) if step else to("logbook", begun.slug)


def alone(person: User) -> bool:
    """Whether this is the first person of the installation, alone in it and without a workshop."""
    others = User.objects.exclude(pk=person.pk).exists()
    return not others and not Membership.objects.filter(user=person).exists()


def _step(request: HttpRequest, form: PlainForm, step: str, **context: object) -> HttpResponse:
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


def _owner(request: HttpRequest) -> HttpResponse:
    form = OwnerForm(request.POST or None)
    if not setup.is_first_run():
        return _owner_again(request, form)
    if request.method == "POST" and form.is_valid():
        said = form.cleaned_data
        person = _first_user(said["username"], said["password"], said["display_name"])
        if person is None:
            return _owner_again(request, form)
        let_in(request, person)
        return to("set-up")
    return _step(request, form, "owner")


def _owner_again(request: HttpRequest, form: OwnerForm) -> HttpResponse:
    """Answer where the owner stands already: a second press goes on, and who left half way signs in first."""
    if request.method == "POST" and form.is_valid():
        said = form.cleaned_data
        person = authenticate(request, username=said["username"], password=said["password"])
        if isinstance(person, User) and alone(person):
            let_in(request, person)
            return to("set-up")
    if not any(alone(person) for person in User.objects.all()[:2]):
        raise Http404("The book has been set up.")
    return HttpResponseRedirect(f"{reverse('sign-in')}?next={reverse('set-up')}", status=303)


def _first_user(username: str, password: str, display_name: str) -> User | None:
    """Create the first user; None where another one came first."""
    try:
        with transaction.atomic(durable=True):
            person = User.objects.create_user(username, password=password, display_name=display_name)
            if User.objects.exclude(pk=person.pk).exists():
                raise IntegrityError("Another person was first.")
            return person
    except IntegrityError:
        return None


def _workshop(request: HttpRequest, person: User, begun: Workshop | None) -> HttpResponse:
    """Open the workshop, or put right what was said of it when its first page is sent again."""
    form = WorkshopForm(request.POST or None, initial={"jurisdiction": "none"})
    if request.method == "POST" and form.is_valid():
        try:
            made = setup.create_workshop(**form.facts(), owner=person)
        except setup.SetUpError as error:
            form.add_error(None, str(error))
        else:
            return to("set-up-rules", made.slug)
    return _step(request, form, "workshop")


# --- below the workshop's own address -------------------------------------------------------------------------------


def of_one_set_up(view: Callable[[ShopRequest], HttpResponse]) -> Callable[[ShopRequest], HttpResponse]:
    """Let a step be shown of a workshop whose set-up was begun; one that came otherwise has it all in its settings."""

    @wraps(view)
    def wrapped(request: ShopRequest) -> HttpResponse:
        return see(request, "settings") if request.workshop.set_up is None else view(request)

    return wrapped


def _go_on(request: ShopRequest, step: str, became: str) -> HttpResponse:
    """Keep what became of a step, and go to the one after it that is open, else to the Logbook."""
    setup.note_step(request.workshop, step, became)
    following = setup.next_step(request.workshop)
    return see(request, f"set-up-{following}") if following else see(request, "logbook")


@never_cache
@PAGES
@owner_required
@of_one_set_up
def workshop(request: ShopRequest) -> HttpResponse:
    """Put right where the workshop is and whose rules it works by."""
    shop = request.workshop
    form = WorkshopForm(request.POST or None, access=request.access, initial=WorkshopForm.initial_of(shop))
    if request.method == "POST" and form.is_valid():
        setup.change_workshop(shop, **form.facts())
        return _go_on(request, "workshop", setup.DONE)
    return _step(request, form, "workshop")


@never_cache
@PAGES
@owner_required
@of_one_set_up
def rules(request: ShopRequest) -> HttpResponse:
    """Choose units and basis, as they are proposed under the workshop's rules or otherwise."""
    shop = request.workshop
    if "later" in request.POST:
        return _go_on(request, "rules", setup.LATER)
    form = RulesForm(request.POST or None, access=request.access, initial=RulesForm.initial_of(shop))
    del form.fields["jurisdiction"]  # the step before has asked it
    form.put_first(setup.PROPOSED[shop.jurisdiction])
    if request.method == "POST" and form.is_valid():
        Workshop.objects.filter(pk=shop.pk).update(**form.cleaned_data)
        return _go_on(request, "rules", setup.DONE)
    return _step(request, form, "rules", proposed=setup.PROPOSED[shop.jurisdiction])


@never_cache
@PAGES
@owner_required
@of_one_set_up
def scales(request: ShopRequest) -> HttpResponse:
    """Enter the scales, one after another."""
    book = request.workshop.book
    if "later" in request.POST:
        return _go_on(request, "scales", setup.LATER)
    form = ScaleForm(request.POST or None, access=request.access, book=book)
    if request.method == "POST" and (form.is_valid() or form.stands_already()):
        if form.is_valid():
            with transaction.atomic():
                made = ledger.open_scale(book, **form.facts())
            messages.info(request, f"{made} is entered.")
        return see(request, "set-up-scales")
    return _step(request, form, "scales", scales=list(book.scales.order_by("name")))


@never_cache
@PAGES
@owner_required
@of_one_set_up
def cylinders(request: ShopRequest) -> HttpResponse:
    """Lead to entering the first cylinders, and show which stand."""
    book = request.workshop.book
    if request.method == "POST":
        return _go_on(request, "cylinders", setup.LATER)
    found = Cylinder.objects.filter(account__book=book).select_related("account").order_by("serial")
    holdings: list[Any] = list(found.prefetch_related("account__holdings")[:SHOWN_AT_MOST])
    more = found.count() - len(holdings)
    return _step(request, PlainForm(), "cylinders", cylinders=holdings, more=more, can_weigh=book.scales.exists())


@never_cache
@PAGES
@owner_required
@of_one_set_up
def people(request: ShopRequest) -> HttpResponse:
    """Lead to entering the other people, or say that there are none."""
    shop = request.workshop
    if request.method == "POST":
        return _go_on(request, "people", setup.LATER if "later" in request.POST else setup.DONE)
    members = Membership.objects.filter(workshop=shop).select_related("user").order_by("pk")
    return _step(request, PlainForm(), "people", members=members)
