"""Forms of documents: issuing, sending and signing one, and the open page that says what a code, file or digest is."""

from collections.abc import Sequence
from typing import Any
from uuid import UUID

from django import forms
from django.core.exceptions import ValidationError

from compliance.documents.signing import NoSignature, read_strokes
from inventory.pages.forms.act import LOST_KEY, PlainForm
from inventory.pages.forms.parts import set_choices

LARGEST_FILE = 5_000_000


class IssueForm(PlainForm):
    """The button that issues what the page shows: the key that keeps it from counting twice, and what was shown.

    `address` is the one that no phone reaches, once the person has said that the paper is to bear it.
    """

    key = forms.UUIDField(widget=forms.HiddenInput, error_messages={"required": LOST_KEY, "invalid": LOST_KEY})
    seen = forms.CharField(widget=forms.HiddenInput, required=False)
    address = forms.CharField(widget=forms.HiddenInput, required=False)

    def show_again(self, key: UUID, seen: str) -> None:
        """Keep the errors, and give the page a new key for what it shows now."""
        self.data = {"key": str(key), "seen": seen}


class VerifyForm(PlainForm):
    """A code, a file or a digest from a paper; one of them is enough."""

    code = forms.CharField(
        label="Check code",
        required=False,
        max_length=60,
        help_text="Twelve characters at the foot of each page. Capitals and dashes do not matter.",
        widget=forms.TextInput(attrs={"autocomplete": "off", "spellcheck": "false", "autocapitalize": "characters"}),
    )
    file = forms.FileField(
        label="Or the file itself",
        required=False,
        help_text="A PDF of at most 5 MB. It is compared and not kept.",
        error_messages={"empty": "The file is empty. Choose the PDF that you were given."},
    )
    digest = forms.CharField(
        label="Digest printed on the paper",
        required=False,
        max_length=100,
        help_text="The sixteen digits behind “line ..., digest” on the first page.",
        widget=forms.TextInput(attrs={"autocomplete": "off", "spellcheck": "false"}),
    )
    line = forms.IntegerField(
        label="Line printed before that digest",
        required=False,
        min_value=1,
        max_value=10**12,
        help_text="Needed only where the paper has no code that is found here.",
        error_messages={"invalid": "A line is a whole number.", "min_value": "Lines are counted from 1."},
        widget=forms.TextInput(attrs={"autocomplete": "off", "inputmode": "numeric"}),
    )

    def clean_file(self) -> Any:
        file = self.cleaned_data["file"]
        if file and file.size > LARGEST_FILE:
            raise ValidationError(f"The file has {file.size / 1e6:.1f} MB; at most 5 MB are read.")
        return file

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or self.cleaned_data
        if self.errors:
            return cleaned
        if not any(cleaned.get(name) for name in ("code", "file", "digest")):
            raise ValidationError({"code": "Enter a check code, choose a file, or enter a digest with its line."})
        if cleaned["digest"] and not (cleaned["code"] or cleaned["file"] or cleaned["line"]):
            raise ValidationError({"line": "Enter the line that is printed before the digest, or the check code."})
        return cleaned


class MailForm(PlainForm):
    """To whom an issued paper goes by e-mail."""

    key = forms.UUIDField(widget=forms.HiddenInput, error_messages={"required": LOST_KEY, "invalid": LOST_KEY})
    to = forms.EmailField(
        label="To",
        max_length=254,
        widget=forms.TextInput(attrs={"inputmode": "email", "autocomplete": "off", "spellcheck": "false"}),
        error_messages={
            "required": "Enter the address that it goes to.",
            "invalid": "This is no address of e-mail: one is such as name@example.net.",
        },
    )
    words = forms.CharField(
        label="What you write with it",
        required=False,
        max_length=2_000,
        widget=forms.Textarea(attrs={"rows": 3}),
    )


class SignForm(PlainForm):
    """Who signs an issued paper: a name typed, and drawn where the browser lets it."""

    key = forms.UUIDField(widget=forms.HiddenInput, error_messages={"required": LOST_KEY, "invalid": LOST_KEY})
    drawn = forms.CharField(widget=forms.HiddenInput, required=False, max_length=200_000)
    part = forms.ChoiceField(label="Signed as", error_messages={"required": "Say for whom it is signed."})
    name = forms.CharField(
        label="Name of who signs",
        max_length=120,
        widget=forms.TextInput(attrs={"autocomplete": "off"}),
        error_messages={"required": "Enter the name of who signs."},
    )

    def __init__(self, *args: Any, parts: Sequence[str], **options: Any) -> None:
        super().__init__(*args, **options)
        set_choices(self, "part", [(one, one) for one in parts])

    def clean_drawn(self) -> list[list[list[int]]]:
        """Return the strokes, empty where nothing was drawn."""
        try:
            return read_strokes(self.cleaned_data["drawn"])
        except NoSignature as error:
            self.add_error(None, str(error))
            return []
