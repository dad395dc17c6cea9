"""Pages outside any workshop: home, labels, how it looks."""

from django.contrib.auth.decorators import login_not_required
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_http_methods, require_safe

from inventory.measure.codes import ALPHABET, check_character
from inventory.models import Cylinder
from inventory.pages.forms.act import page
from shop.models import Membership, User, Workshop
from shop.pages.answers import to
from shop.pages.forms.account import AppearanceForm
from shop.people import setup

YEAR_S = 31_536_000


@require_safe
@login_not_required
def home(request: HttpRequest) -> HttpResponse:
    """Lead to the one workshop of the person or a choice; strangers to sign-in, who sets up to its next step."""
    if not request.user.is_authenticated:
        return to("set-up" if setup.is_first_run() else "sign-in")
    assert isinstance(request.user, User)  # noqa: S101 signed in
    if (begun := setup.goes_on_at(request.user)) is not None:
        return to(f"set-up-{begun[1]}", begun[0].slug)
    workshops = list(Workshop.objects.filter(memberships__user=request.user, memberships__active=True))
    if len(workshops) == 1:
        return to("logbook", workshops[0].slug)
    if not workshops and not User.objects.exclude(pk=request.user.pk).exists():
        return to("set-up")
    return render(request, "shop/home.html", {"workshops": workshops})


@require_safe
def label(request: HttpRequest, label: str) -> HttpResponse:
    """Lead from the code on a cylinder's label to its page, for members of its workshop; 404 for anyone else."""
    code = label.upper()
    if len(code) == 6 and set(code) <= set(ALPHABET) and check_character(code[:5]) == code[5]:
        found = Cylinder.objects.filter(label=code).select_related("account__book__workshop").first()
        if found is not None:
            workshop = found.account.book.workshop
            if Membership.objects.filter(user__pk=request.user.pk or 0, workshop=workshop, active=True).exists():
                return to("cylinder", workshop.slug, found.account.number)
    raise Http404("No such label here.")


@require_http_methods(["GET", "HEAD", "POST"])
@login_not_required
def appearance(request: HttpRequest) -> HttpResponse:
    """Choose the palette on this machine; a cookie remembers it."""
    form = AppearanceForm(request.POST or None, initial={"appearance": request.COOKIES.get("appearance", "")})
    if request.method == "POST" and form.is_valid():
        response = to("appearance")
        chosen = form.cleaned_data["appearance"]
        if chosen:
            response.set_cookie("appearance", chosen, max_age=YEAR_S, samesite="Lax", secure=request.is_secure())
        else:
            response.delete_cookie("appearance", samesite="Lax")
        return response
    return page(request, "shop/appearance.html", form)
