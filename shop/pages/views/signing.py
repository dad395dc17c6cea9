"""Signing in and out, and the second factor: asked for where there is one, set up with a code, taken off with one."""

import base64
import time
from typing import Any

from django.contrib.auth import authenticate, logout
from django.contrib.auth.decorators import login_not_required
from django.http import HttpRequest, HttpResponse, HttpResponseRedirect
from django.shortcuts import render
from django.urls import reverse
from django.utils.http import url_has_allowed_host_and_scheme
from django.views.decorators.cache import never_cache
from django.views.decorators.debug import sensitive_post_parameters
from django.views.decorators.http import require_http_methods
from django_otp import login as otp_login
from django_otp.plugins.otp_totp.models import TOTPDevice

from inventory.pages.access import ask_for_password
from inventory.pages.forms.act import page
from shop.models import User
from shop.pages.answers import let_in, to
from shop.pages.forms.account import CodeForm, SignInForm
from shop.pages.reaching import qr_code
from shop.people import hands, setup, tries
from shop.people.signing import has_second_factor, person_called

HALF_WAY_S = 300  # how long a password stays good while the second factor is awaited


@never_cache
@sensitive_post_parameters("password")
@require_http_methods(["GET", "HEAD", "POST"])
@login_not_required
def sign_in(request: HttpRequest) -> HttpResponse:
    """Ask for name and password; a person with a second factor goes on to its page before being let in."""
    if setup.is_first_run():
        return to("set-up")
    following = _following(request)
    other = "other" in request.GET  # on a shared phone, or to do what a PIN does not open
    if request.user.is_authenticated and request.method == "GET" and not other:
        return HttpResponseRedirect(following)
    form = SignInForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        name, password = form.cleaned_data["username"], form.cleaned_data["password"]
        meant = person_called(name)  # before tries are counted: each writing of a name is one person's
        name = meant.username if meant else name
        if tries.must_wait(request, name, meant):
            return render(request, "shop/locked_out.html", status=429)
        person = authenticate(request, username=name, password=password)
        if isinstance(person, User):
            if has_second_factor(person):
                request.session["half_way"] = [person.pk, time.time(), following]
                return to("second-factor-check")
            return _let_in(request, person, following)
        form.add_error(None, "That name and password do not belong together. Enter both again.")
    by_pin = request.user.is_authenticated and bool(request.session.get(hands.BY_PIN))
    return page(request, "shop/sign_in.html", form, next=following, by_pin=by_pin)


def _let_in(request: HttpRequest, person: User, following: str) -> HttpResponse:
    let_in(request, person)
    answer = HttpResponseRedirect(following, status=303)
    tries.know(request, answer, person)
    return answer


def _following(request: HttpRequest) -> str:
    """Return where to go after signing in: a page of this book, else the logbook."""
    asked = request.POST.get("next") or request.GET.get("next") or ""
    safe = url_has_allowed_host_and_scheme(asked, allowed_hosts={request.get_host()}, require_https=request.is_secure())
    return asked if safe else reverse("home")


@require_http_methods(["GET", "HEAD", "POST"])
@login_not_required
def sign_out(request: HttpRequest) -> HttpResponse:
    """Ask on GET, sign out on POST; what the browser kept of unsent forms goes with it."""
    if request.method == "POST":
        logout(request)
        return render(request, "shop/signed_out.html")
    return render(request, "shop/sign_out.html") if request.user.is_authenticated else to("sign-in")


@never_cache
@require_http_methods(["GET", "HEAD", "POST"])
@login_not_required
def second_factor_check(request: HttpRequest) -> HttpResponse:
    """Ask for the code of a person whose password was right a moment ago, and let them in."""
    pk, since, following = request.session.get("half_way") or (0, 0.0, "")
    person = User.objects.filter(pk=pk, is_active=True).first()
    if person is None or time.time() - since > HALF_WAY_S:
        request.session.pop("half_way", None)
        return to("sign-in")
    form = CodeForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        device = _accepting(person, form.cleaned_data["code"])
        if device is not None:
            del request.session["half_way"]
            answer = _let_in(request, person, following)
            otp_login(request, device)
            return answer
        form.add_error("code", "That code was not taken. Wait for the next one and enter it.")
    return page(request, "shop/second_factor_check.html", form)


def _accepting(person: User, code: str) -> TOTPDevice | None:
    """Return the person's device that takes `code`; each device slows down after wrong codes by itself."""
    for device in TOTPDevice.objects.filter(user=person, confirmed=True):
        if device.verify_token(code):
            return device
    return None


@never_cache
@require_http_methods(["GET", "HEAD", "POST"])
def second_factor(request: Any) -> HttpResponse:
    """Show the second factor of the person: set it up with a code, or take it off with one."""
    if request.session.get(hands.BY_PIN):
        return ask_for_password(request)
    confirmed = TOTPDevice.objects.filter(user=request.user, confirmed=True).first()
    device = (
        confirmed
        or TOTPDevice.objects.get_or_create(user=request.user, confirmed=False, defaults={"name": "authenticator"})[0]
    )
    form = CodeForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        if device.verify_token(form.cleaned_data["code"]):
            if confirmed:
                TOTPDevice.objects.filter(user=request.user).delete()
            else:
                device.confirmed = True
                device.save(update_fields=["confirmed"])
                otp_login(request, device)
            return to("second-factor")
        form.add_error("code", "That code was not taken. Wait for the next one and enter it.")
    shown = {} if confirmed else {"secret": _secret(device), "picture": qr_code(device.config_url)}
    return page(request, "shop/second_factor.html", form, confirmed=bool(confirmed), **shown)


def _secret(device: TOTPDevice) -> str:
    """Return the key as an authenticator takes it by hand: base 32 in groups of four."""
    text = base64.b32encode(device.bin_key).decode().rstrip("=")
    return " ".join(text[place : place + 4] for place in range(0, len(text), 4))
