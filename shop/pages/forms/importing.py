"""The forms that bring a year kept elsewhere, and that ask for the whole book as files."""

import re
from typing import Any
from uuid import uuid4

from django import forms

from inventory.pages.forms.act import PlainForm
from shop.importing.jobs import LARGEST_BYTES


class ImportForm(PlainForm):
    """One CSV file or workbook; the key makes a second press the same job."""

    key = forms.UUIDField(widget=forms.HiddenInput, initial=uuid4)
    file = forms.FileField(
        label="CSV or XLSX file",
        widget=forms.ClearableFileInput(attrs={"accept": ".csv,.txt,.tsv,.xlsx,.xlsm,text/csv"}),
        error_messages={"required": "Choose the file.", "empty": "The file is empty."},
    )

    def clean_file(self) -> Any:
        """Refuse what is neither text nor a workbook, or too large."""
        upload = self.cleaned_data["file"]
        if upload.size > LARGEST_BYTES:
            raise forms.ValidationError("The file is larger than 400 MB. Use the command import_book for it.")
        head = upload.read(4096)
        upload.seek(0)
        if b"\x00" in head and not head.startswith((b"PK", b"\xd0\xcf\x11\xe0", b"\xff\xfe", b"\xfe\xff")):
            raise forms.ValidationError("This is no CSV text and no workbook. Save the sheet as CSV or as .xlsx.")
        return upload

    @property
    def is_plain(self) -> bool:
        """Whether the file has the headers of the plain form, so that nothing is to be matched."""
        upload = self.cleaned_data["file"]
        head = upload.read(4096).decode("utf-8-sig", errors="replace").partition("\n")[0]
        upload.seek(0)
        return {"occurred_at", "cause", "from_kind"} <= {one.strip(' "\r') for one in re.split("[,;]", head)}


class ExportForm(PlainForm):
    """Whether the photos themselves go along; the key makes a second press the same job."""

    key = forms.UUIDField(widget=forms.HiddenInput, initial=uuid4)
    pictures = forms.BooleanField(
        label="The photos themselves too",
        required=False,
        initial=True,
        help_text="Without them the file is small; what each photo shows and its digest are in it either way.",
    )
