"""A phone that several people share: who writes now, by a PIN, and the PIN itself."""

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.http import HttpRequest, HttpResponse, HttpResponseRedirect
from django.template.defaultfilters import pluralize
from django.urls import reverse
from django.utils.http import url_has_allowed_host_and_scheme
from django.views.decorators.cache import never_cache
from django.views.decorators.debug import sensitive_post_parameters
from django.views.decorators.http import require_http_methods

from inventory.pages.access import ask_for_password, writer_required
from inventory.pages.forms.act import page
from shop.models import User
from shop.pages.answers import hand_to, to
from shop.pages.forms.account import PinForm, TakeOverForm
from shop.pages.middleware import ShopRequest
from shop.people import hands


@never_cache
@sensitive_post_parameters("pin")
@require_http_methods(["GET", "HEAD", "POST"])
@writer_required
def who_writes(request: ShopRequest) -> HttpResponse:
    """Let somebody who signed in here in full today go on by their PIN, on the page that was open."""
    assert isinstance(request.user, User)  # noqa: S101 signed in
    following = _following(request)
    people = hands.who_may_take_over(request.session, request.workshop, request.user)
    form = TakeOverForm(request.POST or None, people=people)
    if request.method == "POST" and form.is_valid():
        person = form.people[form.cleaned_data["person"]]
        if hands.takes(request.session, person, form.cleaned_data["pin"]):
            hand_to(request, person)
            messages.info(request, f"{person} writes now.")
            return HttpResponseRedirect(following, status=303)
        form.add_error("pin", _wrong(person, hands.tries_left(request.session, person)))
    tried_out = hands.who_is_tried_out(request.session, request.workshop, request.user)
    return page(request, "shop/who_writes.html", form, people=people, tried_out=tried_out, next=following)


def _wrong(person: User, left: int) -> str:
    """Return what is said of a wrong PIN: how often it may still be tried, or the way on."""
    if not left:
        return f"That is not the PIN. From now on {person} is asked for the password here, once."
    ones = pluralize(left, "one,ones")
    return f"That is not the PIN of {person}. {left} more wrong {ones}, and the password is asked for here."


def _following(request: ShopRequest) -> str:
    """Return where to go on: the page of this book that was open, else the logbook."""
    asked = request.POST.get("next") or request.GET.get("next") or ""
    safe = url_has_allowed_host_and_scheme(asked, allowed_hosts={request.get_host()}, require_https=request.is_secure())
    return asked if safe else reverse("logbook", args=[request.access.slug])


@never_cache
@sensitive_post_parameters("pin")
@require_http_methods(["GET", "HEAD", "POST"])
def pin(request: HttpRequest) -> HttpResponse:
    """Set the person's own PIN, or take it off; whoever came by a PIN gives the password first."""
    assert isinstance(request.user, User)  # noqa: S101 signed in
    if request.session.get(hands.BY_PIN):
        return ask_for_password(request)
    form = PinForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        try:
            hands.set_pin(request.user, form.cleaned_data["pin"])
        except ValidationError as error:
            form.add_error("pin", error)
        else:
            kept = "Your PIN is kept." if form.cleaned_data["pin"] else "You have no PIN any more."
            messages.info(request, kept)
            return to("pin")
    return page(request, "shop/pin.html", form, has_pin=bool(request.user.pin))
