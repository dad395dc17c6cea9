"""Passwords of people."""

from django.contrib import messages
from django.contrib.auth import authenticate, update_session_auth_hash
from django.core.exceptions import PermissionDenied
from django.db import IntegrityError, transaction
from django.http import HttpResponse
from django.views.decorators.cache import never_cache
from django.views.decorators.debug import sensitive_post_parameters
from django.views.decorators.http import require_http_methods

from inventory.pages.access import writer_required
from inventory.pages.forms.act import page, see
from shop.models import User
from shop.pages.forms.people import USERNAME_TAKEN, PasswordForm
from shop.pages.members import belongs_elsewhere, find_member, is_self
from shop.pages.middleware import ShopRequest

EDITS = require_http_methods(["GET", "HEAD", "POST"])
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
