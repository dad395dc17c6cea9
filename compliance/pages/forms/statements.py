"""The form that chooses the period of a report."""

from typing import Any

from django.core.exceptions import ValidationError

from compliance.statement.figures import check_period
from compliance.statement.period import WrongPeriod
from inventory.gases.potentials import GWP_BASES
from inventory.models.access import Access
from inventory.pages.fields.day import DayField
from inventory.pages.forms.act import PlainForm
from inventory.pages.forms.parts import choice

BASIS_WORDS = {
    "SAR": "SAR (IPCC 1995)",
    "TAR": "TAR (IPCC 2001)",
    "AR4": "AR4 (IPCC 2007)",
    "AR5": "AR5 (IPCC 2013)",
    "AR6": "AR6 (IPCC 2021)",
    "EU": "EU (Regulation 2024/573)",
    "US": "US (exchange values, 42 U.S.C. 7675)",
}


class PeriodForm(PlainForm):
    """First day, last day and basis of a report; sent by GET, since it only looks."""

    basis = choice(
        "Basis of CO2 equivalents",
        [(basis, BASIS_WORDS[basis]) for basis in GWP_BASES],
        what="basis of CO2 equivalents",
    )

    def __init__(self, *args: Any, access: Access, **options: Any) -> None:
        super().__init__(*args, access=access, **options)
        self.order_fields(["from", "to", "basis"])

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or self.cleaned_data
        first, last, basis = cleaned.get("from"), cleaned.get("to"), cleaned.get("basis")
        if first and last and basis:
            try:
                check_period(first, last, basis)
            except WrongPeriod as error:
                raise ValidationError({"to": str(error)}) from error
        return cleaned


# Two fields whose names are words of the language.
PeriodForm.base_fields["from"] = DayField(label="First day", error_messages={"required": "Enter the first day."})
PeriodForm.base_fields["to"] = DayField(label="Last day", error_messages={"required": "Enter the last day."})
