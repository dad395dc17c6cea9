"""How the heel of a single-trip cylinder was removed: its day and the statement of it, where the law asks for one."""

from django import forms

from inventory.models import Cylinder
from inventory.models.access import Access
from inventory.pages.fields.day import DayField, PastDayField
from inventory.pages.forms.act import PlainForm
from inventory.pages.forms.parts import text

IN_US = "us"
HEEL = ("heel_removed_on", "heel_statement")
LONGEST = 120


def heel_day_field() -> DayField:
    """Return the field of the day."""
    return PastDayField(label="Heel removed on", required=False, help_text="With the vacuum that the law asks for.")


def heel_statement_field() -> forms.CharField:
    """Return the field of the statement."""
    return text("Statement of it", required=False, help_text="Its number, or who signed it.")


def judge_heel(form: forms.Form) -> None:
    """Ask for both or neither, and refuse a statement that is too long."""
    if not set(HEEL) <= set(form.fields) or set(HEEL) & set(form.errors):
        return
    day, statement = (form.cleaned_data.get(name) for name in HEEL)
    if len(statement or "") > LONGEST:
        form.add_error("heel_statement", f"This is longer than {LONGEST} characters. Shorten it.")
    elif day and not statement:
        form.add_error("heel_statement", "Enter the number of the statement, or who signed it.")
    elif statement and not day:
        form.add_error("heel_removed_on", "Enter the day on which the heel was removed.")


class DoneForm(PlainForm):
    """A cylinder leaves the shelf; of a single-trip one the law may ask how its heel was removed."""

    heel_removed_on = heel_day_field()
    heel_statement = heel_statement_field()

    def __init__(self, *args: object, cylinder: Cylinder, access: Access, **options: object) -> None:
        super().__init__(*args, access=access, initial={name: getattr(cylinder, name) for name in HEEL}, **options)
        if access.jurisdiction != IN_US or cylinder.kind != Cylinder.SINGLE_TRIP:
            for name in HEEL:
                del self.fields[name]

    def clean(self) -> dict[str, object]:
        cleaned = super().clean() or self.cleaned_data
        judge_heel(self)
        return cleaned
