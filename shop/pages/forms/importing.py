"""The forms that bring a year kept elsewhere, and that ask for the whole book as files."""

from typing import Any
from uuid import uuid4

from django import forms

from inventory.pages.forms.act import PlainForm
from shop.importing.jobs import LARGEST_BYTES


class ImportForm(PlainForm):
    """One CSV file; the key makes a second press the same job."""

    key = forms.UUIDField(widget=forms.HiddenInput, initial=uuid4)
    file = forms.FileField(
        label="CSV file",
        widget=forms.ClearableFileInput(attrs={"accept": ".csv,text/csv"}),
        error_messages={"required": "Choose the file.", "empty": "The file is empty."},
    )

    def clean_file(self) -> Any:
        """Refuse what is no text or too large."""
        upload = self.cleaned_data["file"]
        if upload.size > LARGEST_BYTES:
            raise forms.ValidationError("The file is larger than 400 MB. Use the command import_book for it.")
        head = upload.read(4096)
        upload.seek(0)
        if b"\x00" in head:
            raise forms.ValidationError("This is no CSV text. Save the sheet as CSV in UTF-8.")
        return upload


class ExportForm(PlainForm):
    """Whether the photos themselves go along; the key makes a second press the same job."""

    key = forms.UUIDField(widget=forms.HiddenInput, initial=uuid4)
    pictures = forms.BooleanField(
        label="The photos themselves too",
        required=False,
        initial=True,
        help_text="Without them the file is small; what each photo shows and its digest are in it either way.",
    )
