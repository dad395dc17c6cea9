"""Pages outside any workshop: home, signing in and out, the second factor, the first set-up, labels, how it looks."""

import base64
import time
from typing import Any

import segno
from django.conf import settings
from django.contrib.auth import authenticate, login, logout
from django.contrib.auth.decorators import login_not_required
from django.db import IntegrityError, transaction
from django.http import Http404, HttpRequest, HttpResponse, HttpResponseRedirect
from django.shortcuts import render
from django.urls import reverse
from django.utils.http import url_has_allowed_host_and_scheme
from django.utils.safestring import SafeString
from django.views.decorators.cache import never_cache
from django.views.decorators.debug import sensitive_post_parameters
from django.views.decorators.http import require_http_methods, require_safe
from django_otp import login as otp_login
from django_otp.plugins.otp_totp.models import TOTPDevice

from inventory import ledger
from inventory.atmosphere import air_at
from inventory.codes import ALPHABET, check_character
from inventory.forms import PlainForm, page
from inventory.models import Cylinder
from shop import setup
from shop.account_forms import (
    AppearanceForm,
    CodeForm,
    FirstScaleForm,
    OwnerForm,
    RulesForm,
    SignInForm,
    WorkshopForm,
)
from shop.models import Membership, User, Workshop

HALF_WAY_S = 300  # how long a password stays good while the second factor is awaited
BACKEND = "django.contrib.auth.backends.ModelBackend"
STEPS = ("owner", "workshop", "rules", "scales", "cylinders")
YEAR_S = 31_536_000


def _to(name: str, *args: object) -> HttpResponse:
    return HttpResponseRedirect(reverse(name, args=args), status=303)


@require_safe
@login_not_required
def home(request: HttpRequest) -> HttpResponse:
    """Lead to the only workshop of the person, or let them choose; strangers to sign-in, the first one to set-up."""
    if not request.user.is_authenticated:
        return _to("set-up" if setup.is_first_run() else "sign-in")
    workshops = list(Workshop.objects.filter(memberships__user=request.user, memberships__active=True))
    if len(workshops) == 1:
        return _to("logbook", workshops[0].slug)
    if not workshops and _sets_up(request):
        return _to("set-up")
    return render(request, "shop/home.html", {"workshops": workshops})


# --- signing in and out ---------------------------------------------------------------------------------------


@never_cache
@sensitive_post_parameters("password")
@require_http_methods(["GET", "HEAD", "POST"])
@login_not_required
def sign_in(request: HttpRequest) -> HttpResponse:
    """Ask for name and password; a person with a second factor goes on to its page before being let in."""
    if setup.is_first_run():
        return _to("set-up")
    following = _following(request)
    if request.user.is_authenticated and request.method == "GET":
        return HttpResponseRedirect(following)
    form = SignInForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        person = authenticate(request, **form.cleaned_data)
        if isinstance(person, User):
            if TOTPDevice.objects.filter(user=person, confirmed=True).exists():
                request.session["half_way"] = [person.pk, time.time(), following]
                return _to("second-factor-check")
            _let_in(request, person)
            return HttpResponseRedirect(following, status=303)
        form.add_error(None, "That name and password do not belong together. Enter both again.")
    return page(request, "shop/sign_in.html", form, next=following)


def _let_in(request: HttpRequest, person: User) -> None:
    """Begin the person's session and note when it ends."""
    login(request, person, backend=BACKEND)
    request.session["ends"] = time.time() + settings.SESSION_COOKIE_AGE


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
    return render(request, "shop/sign_out.html") if request.user.is_authenticated else _to("sign-in")


# --- the second factor ----------------------------------------------------------------------------------------


@never_cache
@require_http_methods(["GET", "HEAD", "POST"])
@login_not_required
def second_factor_check(request: HttpRequest) -> HttpResponse:
    """Ask for the code of a person whose password was right a moment ago, and let them in."""
    pk, since, following = request.session.get("half_way") or (0, 0.0, "")
    person = User.objects.filter(pk=pk, is_active=True).first()
    if person is None or time.time() - since > HALF_WAY_S:
        request.session.pop("half_way", None)
        return _to("sign-in")
    form = CodeForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        device = _accepting(person, form.cleaned_data["code"])
        if device is not None:
            del request.session["half_way"]
            _let_in(request, person)
            otp_login(request, device)
            return HttpResponseRedirect(following, status=303)
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
            return _to("second-factor")
        form.add_error("code", "That code was not taken. Wait for the next one and enter it.")
    shown = {} if confirmed else {"secret": _secret(device), "picture": _picture(device.config_url)}
    return page(request, "shop/second_factor.html", form, confirmed=bool(confirmed), **shown)


def _secret(device: TOTPDevice) -> str:
    """Return the key as an authenticator takes it by hand: base 32 in groups of four."""
    text = base64.b32encode(device.bin_key).decode().rstrip("=")
    return " ".join(text[place : place + 4] for place in range(0, len(text), 4))


def _picture(url: str) -> SafeString:
    """Return the QR code of `url` as an SVG without any style attribute."""
    code = segno.make(url, error="m", micro=False)
    return SafeString(code.svg_inline(scale=4, border=4, dark="#000", light="#fff", omitsize=True, svgclass="qr"))


# --- the first set-up -----------------------------------------------------------------------------------------


def _sets_up(request: HttpRequest) -> bool:
    """Whether this is the first person of the installation, alone in it."""
    return request.user.is_authenticated and not User.objects.exclude(pk=request.user.pk).exists()


@never_cache
@sensitive_post_parameters("password")
@require_http_methods(["GET", "HEAD", "POST"])
@login_not_required
def set_up(request: HttpRequest) -> HttpResponse:
    """Lead the first person through owner, workshop, rules, scales and cylinders; for anyone else there is no page."""
    if setup.is_first_run():
        return _set_up_owner(request)
    if not _sets_up(request):
        raise Http404("The book has been set up.")
    member = Membership.objects.filter(user__pk=request.user.pk or 0).select_related("workshop__book").first()
    if member is None:
        asked = "workshop" if "workshop" not in request.session else request.GET.get("step", "rules")
        return _set_up_rules(request) if asked == "rules" else _set_up_workshop(request)
    if request.GET.get("step") == "cylinders":
        return _step(request, PlainForm(), "cylinders", shop=member.workshop)
    return _set_up_scales(request, member.workshop)


def _step(request: HttpRequest, form: PlainForm, step: str, **context: object) -> HttpResponse:
    steps = [(name, name == step) for name in STEPS]
    number = STEPS.index(step) + 1
    return page(request, f"shop/set_up_{step}.html", form, steps=steps, number=number, **context)


def _set_up_owner(request: HttpRequest) -> HttpResponse:
    form = OwnerForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        said = form.cleaned_data
        person = _first_user(said["username"], said["password"], said["display_name"])
        if person is None:
            raise Http404("The book has been set up.")
        _let_in(request, person)
        return _to("set-up")
    return _step(request, form, "owner")


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


def _set_up_workshop(request: HttpRequest) -> HttpResponse:
    form = WorkshopForm(request.POST or None, initial=request.session.get("workshop"))
    if request.method == "POST" and form.is_valid():
        said = form.cleaned_data
        height = said["height"]
        request.session["workshop"] = {
            **{name: said[name] for name in ("name", "address", "zone")},
            "height": "" if not height else f"{height.text} {height.unit}" if height.text.isdigit() else height.text,
            "altitude_m": height.si if height else None,
        }
        return HttpResponseRedirect(f"{reverse('set-up')}?step=rules", status=303)
    return _step(request, form, "workshop")


def _set_up_rules(request: HttpRequest) -> HttpResponse:
    kept = request.session["workshop"]
    form = RulesForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        where = {name: kept[name] for name in ("name", "address", "zone", "altitude_m")}
        assert isinstance(request.user, User)  # noqa: S101 signed in, as `_sets_up` has seen
        try:
            setup.create_workshop(**where, **form.cleaned_data, owner=request.user)
        except setup.SetUpError as error:
            form.add_error(None, str(error))
        else:
            del request.session["workshop"]
            return _to("set-up")
    return _step(request, form, "rules", kept=kept, air=air_at(kept["altitude_m"]))


def _set_up_scales(request: HttpRequest, workshop: Workshop) -> HttpResponse:
    form = FirstScaleForm(request.POST or None)
    book = workshop.book
    if request.method == "POST" and form.is_valid():
        said = form.cleaned_data
        if book.scales.filter(name=said["name"]).exists():
            form.add_error("name", f"There is a scale {said['name']} already. Give this one another name.")
        else:
            capacity = said["capacity"]
            ledger.open_scale(
                book,
                name=said["name"],
                step_mg=said["step"].mg,
                capacity_mg=capacity.mg if capacity else None,
                serial=said["serial"],
            )
            return _to("set-up")
    return _step(request, form, "scales", shop=workshop, scales=list(book.scales.order_by("name")))


# --- labels and looks -----------------------------------------------------------------------------------------


@require_safe
def label(request: HttpRequest, label: str) -> HttpResponse:
    """Lead from the code on a cylinder's label to its page, for members of its workshop; 404 for anyone else."""
    code = label.upper()
    if len(code) == 6 and set(code) <= set(ALPHABET) and check_character(code[:5]) == code[5]:
        found = Cylinder.objects.filter(label=code).select_related("account__book__workshop").first()
        if found is not None:
            workshop = found.account.book.workshop
            if Membership.objects.filter(user__pk=request.user.pk or 0, workshop=workshop, active=True).exists():
                return _to("cylinder", workshop.slug, found.account.number)
    raise Http404("No such label here.")


@require_http_methods(["GET", "HEAD", "POST"])
@login_not_required
def appearance(request: HttpRequest) -> HttpResponse:
    """Choose the palette on this machine; a cookie remembers it."""
    form = AppearanceForm(request.POST or None, initial={"appearance": request.COOKIES.get("appearance", "")})
    if request.method == "POST" and form.is_valid():
        response = _to("appearance")
        chosen = form.cleaned_data["appearance"]
        if chosen:
            response.set_cookie("appearance", chosen, max_age=YEAR_S, samesite="Lax", secure=request.is_secure())
        else:
            response.delete_cookie("appearance", samesite="Lax")
        return response
    return page(request, "shop/appearance.html", form)
