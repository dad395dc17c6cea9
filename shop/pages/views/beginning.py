"""The set-up outside any workshop: its owner, then the workshop itself; it goes on where it was left."""

from django.contrib.auth import authenticate
from django.contrib.auth.decorators import login_not_required
from django.db import IntegrityError, transaction
from django.http import Http404, HttpRequest, HttpResponse, HttpResponseRedirect
from django.urls import reverse
from django.views.decorators.cache import never_cache
from django.views.decorators.debug import sensitive_post_parameters
from django.views.decorators.http import require_http_methods

from shop.models import Membership, User, Workshop
from shop.pages.answers import let_in, show_step, to, too_often
from shop.pages.forms.account import OwnerForm, WorkshopForm
from shop.people import setup
from shop.people.tries import Tries

CODES = Tries("set-up", 20)
PAGES = require_http_methods(["GET", "HEAD", "POST"])


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


def _owner(request: HttpRequest) -> HttpResponse:
    form = OwnerForm(request.POST or None)
    if not setup.is_first_run():
        return _owner_again(request, form)
    if request.method == "POST" and (seconds := CODES.wait_s(request)):
        return too_often(request, seconds, "Too many wrong codes came from this address.", reverse("set-up"))
    if request.method == "POST" and form.has_error("code"):
        CODES.count(request)
    if request.method == "POST" and form.is_valid():
        said = form.cleaned_data
        person = _first_user(said["username"], said["password"], said["display_name"])
        if person is None:
            return _owner_again(request, form)
        let_in(request, person)
        return to("set-up")
    return show_step(request, form, "owner")


def _owner_again(request: HttpRequest, form: OwnerForm) -> HttpResponse:
    """Answer where the owner stands already: a second press goes on, and who left half way signs in first."""
    if not any(alone(person) for person in User.objects.all()[:2]):
        raise Http404("The book has been set up.")
    if request.method == "POST" and form.is_valid():
        said = form.cleaned_data
        person = authenticate(request, username=said["username"], password=said["password"])
        if isinstance(person, User) and alone(person):
            let_in(request, person)
            return to("set-up")
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
    return show_step(request, form, "workshop")
