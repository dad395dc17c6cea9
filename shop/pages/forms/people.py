"""Forms of people, their certificates and their passwords."""

import re
from collections.abc import Callable
from typing import Any

from django import forms
from django.contrib.auth.password_validation import validate_password
from django.core.exceptions import ValidationError
from django.utils import timezone

from inventory.models.access import OWNER, TECHNICIAN
from inventory.pages.fields.day import DayField
from inventory.pages.forms.act import PlainForm
from inventory.pages.forms.parts import choice, set_choices, text
from shop.models import Certification, Membership, User
from shop.people.certificates import CATEGORIES
from shop.people.signing import people_called, same_name

LONGEST = {
    "username": 150,
    "display_name": 120,
    "scheme": 120,
    "number": 80,
    "issuer": 120,
    "scope": 200,
}
USERNAME = re.compile(r"[\w.@+-]+")
USERNAME_TAKEN = "There is somebody with that name to sign in with already. Choose another."
LAST_OWNER = "This is the last owner who is here. Make another person owner first."
ROLE_WORDS = {
    "owner": "owner: writes in the book, keeps people and settings",
    "technician": "technician: writes in the book",
    "reader": "reader: looks, does not write",
}


def _password_field(label: str, completes: str, **options: Any) -> forms.CharField:
    widget = forms.PasswordInput(attrs={"autocomplete": completes})
    return forms.CharField(label=label, strip=False, widget=widget, **options)


def _username_field(**options: Any) -> forms.CharField:
    widget = forms.TextInput(attrs={"autocomplete": "off", "autocapitalize": "none", "spellcheck": "false"})
    return forms.CharField(label="Name to sign in with", widget=widget, **options)


def _judge_lengths(form: PlainForm, cleaned: dict[str, Any]) -> None:
    for name, most in LONGEST.items():
        if len(cleaned.get(name) or "") > most:
            form.add_error(name, f"This is longer than {most} characters. Shorten it.")


def _free_username(given: str) -> str:
    """Return a name to sign in with as it is kept; raises ValidationError where it is taken or has odd characters."""
    name = User.normalize_username(given)
    if name and not USERNAME.fullmatch(name):
        raise ValidationError("Write it with letters, figures and . @ + - _ alone, without spaces.")
    if name and people_called(name):
        raise ValidationError(USERNAME_TAKEN)
    return name


def _judge_password(form: PlainForm, cleaned: dict[str, Any], user: User) -> None:
    """Judge a new password and whether it was typed twice alike."""
    password = cleaned.get("password") or ""
    if password != (cleaned.get("again") or ""):
        form.add_error("again", "The two passwords differ. Type the new one twice.")
    elif password:
        try:
            validate_password(password, user)
        except ValidationError as error:
            form.add_error("password", error)


class MemberForm(PlainForm):
    """What a person is in this workshop."""

    display_name = text("Name as it stands on papers", what="name")
    role = choice("Role", list(ROLE_WORDS.items()), radio=True, initial=TECHNICIAN)
    is_trainee = forms.BooleanField(label="Trainee", required=False)
    enrolled_on = DayField(label="Enrolled on", required=False, help_text="Of a trainee.")

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or self.cleaned_data
        _judge_lengths(self, cleaned)
        if cleaned.get("is_trainee") and not cleaned.get("enrolled_on") and "enrolled_on" not in self.errors:
            self.add_error("enrolled_on", "Enter the day on which the trainee was enrolled.")
        return cleaned

    def membership(self) -> dict[str, Any]:
        """Return the columns of the membership."""
        return {name: self.cleaned_data[name] for name in ("role", "is_trainee", "enrolled_on")}


class NewPersonForm(MemberForm):
    """A person who comes; without a password the person does not sign in."""

    username = _username_field(required=False, help_text="Only for a person who signs in.")
    password = _password_field(
        "Password",
        "new-password",
        required=False,
        help_text="Ten characters or more. Leave both empty for a person who does not sign in.",
    )
    again = _password_field("The password once more", "new-password", required=False)
    field_order = ("display_name", "role", "is_trainee", "enrolled_on", "username", "password", "again")

    def clean_username(self) -> str:
        return _free_username(str(self.cleaned_data["username"]))

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean()
        if cleaned.get("password") and not cleaned.get("username") and "username" not in self.errors:
            self.add_error("username", "Enter the name to sign in with, or leave the password empty.")
        known = {name: cleaned.get(name) or "" for name in ("username", "display_name")}
        _judge_password(self, cleaned, User(**known))
        return cleaned


class EditPersonForm(MemberForm):
    """What may be changed of a person. The name of one who belongs to another workshop too is not this owner's."""

    active = forms.BooleanField(
        label="Is here",
        required=False,
        help_text="Without it the person cannot come into this workshop; what they wrote stays.",
    )

    def __init__(self, *args: Any, member: Membership, may_rename: bool, last_owner: bool, **options: Any) -> None:
        self.last_owner = last_owner
        initial = {name: getattr(member, name) for name in ("role", "is_trainee", "enrolled_on", "active")}
        super().__init__(*args, initial={**initial, "display_name": str(member.user)}, **options)
        if not may_rename:
            del self.fields["display_name"]

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean()
        if self.last_owner and cleaned.get("role") not in (None, OWNER):
            self.add_error("role", LAST_OWNER)
        if self.last_owner and not cleaned.get("active"):
            self.add_error("active", LAST_OWNER)
        return cleaned

    def membership(self) -> dict[str, Any]:
        return {**super().membership(), "active": self.cleaned_data["active"]}


class CertificateForm(PlainForm):
    """A certificate or attestation that a person holds."""

    scheme = text("What it is", what="name of the certificate", help_text="The scheme, law or course that it is of.")
    category = choice("Its class", [], what="class", required=False)
    number = text("Its number", what="number of the certificate")
    issuer = text("Issued by", required=False)
    issued_on = DayField(label="Issued on", required=False)
    expires_on = DayField(label="Good until", required=False)
    never_expires = forms.BooleanField(label="It never expires", required=False)
    scope = text("What it covers", required=False)

    def __init__(self, *args: Any, certificate: Certification | None = None, **options: Any) -> None:
        initial = {name: getattr(certificate, name) for name in self.base_fields} if certificate else {}
        super().__init__(*args, initial=initial, **options)
        classes = CATEGORIES.get(self.access.jurisdiction if self.access else "", {})
        if not classes:
            del self.fields["category"]
        else:
            other = {one: one for one in [initial.get("category")] if one and one not in classes}
            set_choices(self, "category", [("", "not named on it"), *classes.items(), *other.items()])

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or self.cleaned_data
        _judge_lengths(self, cleaned)
        issued, expires, never = (cleaned.get(name) for name in ("issued_on", "expires_on", "never_expires"))
        if "expires_on" not in self.errors:
            if not expires and not never:
                self.add_error("expires_on", "Enter until when it is good, or mark that it never expires.")
            elif expires and never:
                self.add_error("expires_on", "It has a last day or it never expires, not both. Take one away.")
            elif expires and issued and expires < issued:
                self.add_error("expires_on", "It cannot end before it was issued. Look at both days.")
        if issued and issued > timezone.localdate():
            self.add_error("issued_on", "That day is still to come. Enter the day on which it was issued.")
        return cleaned


class PasswordForm(PlainForm):
    """A new password: one's own with the old one, or another's by the owner."""

    username = _username_field(error_messages={"required": "Enter the name to sign in with."})
    old = _password_field("Old password", "current-password", error_messages={"required": "Enter the old password."})
    password = _password_field(
        "New password",
        "new-password",
        help_text="Ten characters or more. Four unrelated words do well.",
        error_messages={"required": "Enter a new password."},
    )
    again = _password_field(
        "New password once more", "new-password", error_messages={"required": "Enter the new password once more."}
    )

    def __init__(self, *args: Any, user: User, old_is_right: Callable[[str], bool] | None, **options: Any) -> None:
        self.user, self.old_is_right = user, old_is_right
        super().__init__(*args, **options)
        if old_is_right is None:
            del self.fields["old"]
        if old_is_right is not None or user.has_usable_password():
            del self.fields["username"]
        elif user.username != user.handle:
            self.initial["username"] = user.username

    def clean_username(self) -> str:
        given = str(self.cleaned_data["username"])
        return self.user.username if same_name(given, self.user.username) else _free_username(given)

    def clean_old(self) -> str:
        old = str(self.cleaned_data["old"])
        if self.old_is_right is not None and not self.old_is_right(old):
            raise ValidationError("That is not the old password. Enter it again.")
        return old

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or self.cleaned_data
        _judge_lengths(self, cleaned)
        if "again" not in self.errors and "password" not in self.errors:
            name = cleaned.get("username") or self.user.username
            _judge_password(self, cleaned, User(username=name, display_name=self.user.display_name))
        return cleaned
