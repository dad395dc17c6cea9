"""What is asked of a person who wants to be reminded."""

from typing import Any

from django import forms
from django.db import transaction

from compliance.models import Reminded
from inventory.pages.forms.act import PlainForm
from shop.models import Membership


class RemindersForm(PlainForm):
    """Whether a person gets mail, and where."""

    by_mail = forms.BooleanField(label="Send me a mail of what falls due", required=False)
    email = forms.EmailField(
        label="My e-mail address",
        required=False,
        max_length=254,
        widget=forms.EmailInput(attrs={"autocomplete": "email"}),
        error_messages={
            "invalid": "That is not an e-mail address. One looks like anna@example.org.",
            "max_length": "That is too long for an e-mail address.",
        },
    )

    def __init__(self, *args: Any, member: Membership, **options: Any) -> None:
        self.member = member
        chosen = Reminded.objects.filter(member=member, by_mail=True).exists()
        super().__init__(*args, initial={"by_mail": chosen, "email": member.user.email}, **options)

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or self.cleaned_data
        if cleaned.get("by_mail") and not cleaned.get("email") and "email" not in self.errors:
            self.add_error("email", "Enter the address that the mail is to go to.")
        return cleaned

    def keep(self) -> None:
        """Keep what was chosen; only of a form that is valid."""
        with transaction.atomic():
            user = self.member.user
            user.email = self.cleaned_data["email"]
            user.save(update_fields=["email"])
            Reminded.objects.update_or_create(member=self.member, defaults={"by_mail": self.cleaned_data["by_mail"]})
