"""People of a workshop: all of them, one of them, who comes and what changes; their certificates and passwords."""

from django.contrib import messages
from django.contrib.auth import authenticate, update_session_auth_hash
from django.core.exceptions import PermissionDenied
from django.db import IntegrityError, transaction
from django.http import HttpResponse, HttpResponseBase
from django.shortcuts import get_object_or_404, render
from django.urls import reverse
from django.views.decorators.cache import never_cache
from django.views.decorators.debug import sensitive_post_parameters
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from inventory.measure.own import Units
from inventory.models.access import OWNER
from inventory.pages import comeback
from inventory.pages.access import owner_required, writer_required
from inventory.pages.forms.act import page, see
from inventory.pages.links import Link
from inventory.pages.tables.table import export
from shop.models import Certification, Membership, Step, User, Workshop
from shop.pages.answers import data_file
from shop.pages.forms.account import UnitsForm
from shop.pages.forms.people import USERNAME_TAKEN, CertificateForm, EditPersonForm, NewPersonForm, PasswordForm
from shop.pages.found import belongs_elsewhere, find_member, is_self
from shop.pages.middleware import ShopRequest
from shop.pages.tables.people import PeopleTable, good_until, members_of, role_said
from shop.people import privacy
from shop.people.signing import has_second_factor
from shop.visits.kinds import BY_NAME
from shop.visits.lines import Line, line_of
from shop.visits.steps import applicable

EDITS = require_http_methods(["GET", "HEAD", "POST"])
LAST_STEPS = 20


@require_GET
def people(request: ShopRequest) -> HttpResponseBase:
    """All people of the workshop and how long their certificates are good."""
    table = PeopleTable(members_of(request), request=request, none_act=_way_to_new(request))
    context = {"table": table, "own_factor": request.access.is_owner and has_second_factor(request.member.user)}
    return export(request, table, "people") or render(request, "shop/people.html", context)


@require_POST
@owner_required
def ask_second_factor(request: ShopRequest) -> HttpResponse:
    """Ask a second factor of everybody here, or of nobody any more; an owner without one would lock the door behind."""
    asked = request.POST.get("ask") == "1"
    if asked and not has_second_factor(request.member.user):
        raise PermissionDenied("Turn your own second factor on first: else you would be kept out too.")
    Workshop.objects.filter(pk=request.workshop.pk).update(second_factor=asked)
    messages.info(request, "Asked of everybody from now on." if asked else "Asked of nobody any more.")
    return see(request, "people")


def _way_to_new(request: ShopRequest) -> Link | None:
    if not request.access.is_owner:
        return None
    return Link("Enter a person", reverse("person-new", args=[request.access.slug]))


@require_GET
def person(request: ShopRequest, handle: str) -> HttpResponse:
    """One person: role, certificates and the last steps done here."""
    member = find_member(request, handle)
    own = is_self(request, member)
    units = request.access.units
    signs_in = member.user.is_active and member.user.has_usable_password()
    context = {
        "member": member,
        "person": member.user,
        "role": role_said(member),
        "own": own,
        "signs_in": signs_in,
        "shows_sign_in": request.access.is_owner or own,
        "certificates": [(one, good_until(one, request.access.units)) for one in member.user.certifications.all()],
        "may_set_password": _may_set_password(request, member),
        "steps": [(step, _step_said(step, units)) for step in _last_steps(request.workshop, member.user)],
    }
    return render(request, "shop/person.html", context)


def _may_set_password(request: ShopRequest, member: Membership) -> bool:
    if not request.access.may_write:
        return False
    return is_self(request, member) or (request.access.is_owner and not belongs_elsewhere(member))


def _last_steps(workshop: Workshop, user: User) -> list[Step]:
    """Return the last steps that a person did in the workshop, without those entered anew, in one query."""
    rows = Step.objects.filter(visit__workshop=workshop, doer=user, replaced_by__isnull=True)
    return list(rows.select_related("visit", "entry__reversal").order_by("-occurred_at", "-pk")[:LAST_STEPS])


def _step_said(step: Step, units: Units) -> str:
    kind = BY_NAME.get(step.kind)
    return line_of(Line(kind, applicable(kind, step.data), units)) if kind else step.kind


@sensitive_post_parameters("password", "again")
@EDITS
@owner_required
def person_new(request: ShopRequest) -> HttpResponse:
    """Enter a person."""
    form = NewPersonForm(request.POST or None, access=request.access)
    if request.method == "POST" and form.is_valid():
        try:
            user = _add_person(request.workshop, form)
        except IntegrityError:
            form.add_error("username", USERNAME_TAKEN)
        else:
            messages.info(request, f"{user} is entered.")
            return comeback.back(request, user.handle) or see(request, "person", user.handle)
    return page(request, "shop/person_form.html", form)


@transaction.atomic
def _add_person(workshop: Workshop, form: NewPersonForm) -> User:
    """Make a person and the membership; raises IntegrityError where another took the name meanwhile."""
    cleaned = form.cleaned_data
    user = User(display_name=cleaned["display_name"])
    user.username = cleaned["username"] or user.handle
    user.is_active = bool(cleaned["password"])
    user.set_password(cleaned["password"] or None)
    user.save()
    Membership.objects.create(user=user, workshop=workshop, **form.membership())
    return user


@EDITS
@owner_required
def person_edit(request: ShopRequest, handle: str) -> HttpResponse:
    """Change what a person is here; the last owner who is here stays one."""
    if request.method != "POST":
        return _edit(request, handle)
    with transaction.atomic():
        # Two owners who send each other away at once wait here for one another.
        Workshop.objects.select_for_update().get(pk=request.workshop.pk)
        return _edit(request, handle)


def _edit(request: ShopRequest, handle: str) -> HttpResponse:
    member = find_member(request, handle)
    form = EditPersonForm(
        request.POST or None,
        access=request.access,
        member=member,
        may_rename=is_self(request, member) or not belongs_elsewhere(member),
        last_owner=_is_last_owner(member),
    )
    if request.method == "POST" and form.is_valid():
        _change_person(member, form)
        messages.info(request, "Kept.")
        return see(request, "person", handle)
    return page(request, "shop/person_form.html", form, person=member.user)


def _is_last_owner(member: Membership) -> bool:
    """Whether no other owner of the workshop is here and can sign in."""
    if member.role != OWNER or not member.active:
        return False
    others = Membership.objects.filter(workshop=member.workshop_id, role=OWNER, active=True, user__is_active=True)
    return not any(one.user.has_usable_password() for one in others.exclude(pk=member.pk).select_related("user"))


def _change_person(member: Membership, form: EditPersonForm) -> None:
    Membership.objects.filter(pk=member.pk).update(**form.membership())
    if "display_name" in form.cleaned_data:
        User.objects.filter(pk=member.user_id).update(display_name=form.cleaned_data["display_name"])


@require_GET
def person_data(request: ShopRequest, handle: str) -> HttpResponse:
    """All that is stored about a person of the workshop, as a file: for themselves and for the owner."""
    member = find_member(request, handle)
    if not (request.access.is_owner or is_self(request, member)):
        raise PermissionDenied("What is stored about a person is for that person and the owner.")
    return data_file(privacy.person_data(member.user, request.workshop), f"person-{handle}")


@EDITS
@owner_required
def certificate(request: ShopRequest, handle: str, pk: int | None = None) -> HttpResponse:
    """Enter a certificate of a person, or put right what was entered of one."""
    member = find_member(request, handle)
    one = None if pk is None else get_object_or_404(Certification, user=member.user, pk=pk)
    form = CertificateForm(request.POST or None, access=request.access, certificate=one)
    if request.method == "POST" and form.is_valid():
        if one is None:
            Certification.objects.create(user=member.user, **form.cleaned_data)
        else:
            Certification.objects.filter(pk=one.pk).update(**form.cleaned_data)
        messages.info(request, "Kept." if one else "The certificate is entered.")
        return comeback.back(request, "") or see(request, "person", handle)
    return page(request, "shop/certificate_form.html", form, person=member.user, certificate=one)


@EDITS
def units(request: ShopRequest) -> HttpResponse:
    """Choose the units in which the person reads this workshop; what is stored and printed stays as it is."""
    form = UnitsForm(request.POST or None, access=request.access, member=request.member)
    if request.method == "POST" and form.is_valid():
        request.member.own_units = form.chosen
        request.member.save(update_fields=["own_units"])
        messages.info(request, "Kept.")
        return see(request, "units")
    return page(request, "shop/units.html", form)


ELSEWHERE = "This person belongs to another workshop too, so no owner sets the password. They change it themselves."


@never_cache
@sensitive_post_parameters("old", "password", "again")
@EDITS
@writer_required
def password(request: ShopRequest, handle: str) -> HttpResponse:
    """Change one's own password with the old one, or, as owner, set that of a person of this workshop alone."""
    member = find_member(request, handle)
    own = is_self(request, member)
    if not own and not request.access.is_owner:
        raise PermissionDenied("Only the person or the owner of the workshop sets a password.")
    if not own and belongs_elsewhere(member):
        raise PermissionDenied(ELSEWHERE)

    def old_is_right(old: str) -> bool:
        # Through the sign-in, so that guessing here is slowed down as it is there.
        return authenticate(request, username=member.user.username, password=old) is not None

    form = PasswordForm(
        request.POST or None, access=request.access, user=member.user, old_is_right=old_is_right if own else None
    )
    if request.method == "POST" and form.is_valid():
        try:
            _set_password(member.user, form)
        except IntegrityError:
            form.add_error("username", USERNAME_TAKEN)
        else:
            if own:
                update_session_auth_hash(request, member.user)
            messages.info(request, "The new password counts from now on.")
            return see(request, "person", handle)
    return page(request, "shop/password.html", form, person=member.user, own=own)


@transaction.atomic
def _set_password(user: User, form: PasswordForm) -> None:
    """Set a password and let the person sign in; sessions begun with an older one end."""
    user.username = form.cleaned_data.get("username") or user.username
    user.set_password(form.cleaned_data["password"])
    user.is_active = True
    user.save(update_fields=["username", "password", "is_active"])
