"""Forms of what a content turns out to be: another grade, another refrigerant, air in it."""

import re
from decimal import Decimal
from typing import Any

from django import forms
from django.core.exceptions import ValidationError

from inventory.causes import GRADES
from inventory.gases import catalogue
from inventory.gases.catalogue import MIXED
from inventory.models import Gauge
from inventory.models.access import Access
from inventory.pages.fields.quantity import DurationField, PressureField, TemperatureField
from inventory.pages.forms.cylinders import OnCylinder
from inventory.pages.forms.parts import choice, refrigerant_choices, set_choices, text
from inventory.shelf.airchecks import AirReading


class RegradeForm(OnCylinder):
    """The grade of all that a cylinder holds changes; the evidence is named."""

    grade = choice("It is now", (), radio=True, what="grade")
    evidence = text(
        "What shows it",
        what="evidence",
        long=True,
        help_text="The machine that recycled it, the laboratory’s paper and its number, what spoiled it.",
    )

    def __init__(self, *args: Any, **options: Any) -> None:
        super().__init__(*args, **options)
        held_grade = self.content[1] if self.content else self.cylinder.grade
        grades = [(one, one) for one in GRADES if one not in ("virgin", held_grade)]
        set_choices(self, "grade", grades)


class SharesField(forms.CharField):
    """What an identifier showed: ``R-1234yf 91.5, R-134a 8.0, air 0.5``; cleaned: {code: mass fraction as text}."""

    def clean(self, value: Any) -> Any:
        said = super().clean(value)
        shares: dict[str, str] = {}
        for part in re.split(r"[;\n]+|,\s+|,(?=\s*[A-Za-z])", said or ""):
            if not part.strip():
                continue
            code, per_cent = _share(part.strip())
            if code in shares:
                raise ValidationError(f"{code} stands twice. Write each part once.", code="twice")
            shares[code] = f"{per_cent / 100:f}"
        total = sum(Decimal(share) for share in shares.values()) * 100
        if not Decimal(98) <= total <= Decimal(101):
            raise ValidationError(f"The parts add up to {total:f} %, not to 100. Read the display again.", code="sum")
        return shares


def _share(part: str) -> tuple[str, Decimal]:
    """Return the code (or ``air``) and the per cent of one part."""
    match = re.fullmatch(r"(?P<name>.*\S)\s+(?P<number>\d+(?:[.,]\d+)?)\s*%?", part)
    if match is None:
        raise ValidationError(
            f"“{part}” cannot be read. Write each part as R-134a 99.2, with a comma between two.", code="unread"
        )
    name, number = match["name"], Decimal(match["number"].replace(",", "."))
    if name.lower() == "air":
        return "air", number
    try:
        return catalogue.find(name).code, number
    except catalogue.UnknownRefrigerant as error:
        raise ValidationError(str(error), code="unknown") from None


class IdentifyForm(OnCylinder):
    """An identifier says that a content is something else."""

    refrigerant = choice("It is", (), what="refrigerant")
    parts = SharesField(
        label="What the identifier showed, in per cent",
        error_messages={"required": "Enter each part that the identifier showed, with its per cent."},
        widget=forms.Textarea(attrs={"rows": 3, "autocomplete": "off", "spellcheck": "false"}),
        help_text="Such as: R-1234yf 91.5, R-134a 8.0, air 0.5. From 98 % of one on, it is that one; below, MIXED.",
    )
    instrument = text("Instrument and its number", required=False)
    note = text("Note", required=False, long=True)

    def __init__(self, *args: Any, access: Access, **options: Any) -> None:
        super().__init__(*args, access=access, **options)
        set_choices(self, "refrigerant", refrigerant_choices(access.book))

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean()
        code, shares = cleaned.get("refrigerant"), cleaned.get("parts")
        if not code or not shares:
            return cleaned
        gas = {name: Decimal(share) for name, share in shares.items() if name != "air"}
        whole = sum(gas.values())
        if code != MIXED and whole and gas.get(code, Decimal(0)) / whole < Decimal("0.98"):
            share = gas.get(code, Decimal(0)) / whole * 100
            self.add_error(
                "refrigerant",
                f"{share:.1f} % of it is {code}, less than the 98 % that makes it {code}. Choose MIXED, or read again.",
            )
        return cleaned


class AirForm(OnCylinder):
    """A cylinder's pressure after it has stood, to judge how much air is in it."""

    pressure = PressureField(
        label="Pressure on its gauge",
        what="pressure",
        known={"plausible_pa": (50_000.0, 1.2e7)},
        error_messages={"required": "Enter the pressure."},
    )
    temperature = TemperatureField(
        label="Temperature beside it",
        what="temperature",
        help_text="By a thermometer hung within 10 cm (4 inches) of it.",
    )
    waited = DurationField(
        label="How long it stood",
        what="time it stood",
        units=("h", "min", "d"),
        default_unit="h",
        required=False,
        optional_words="(no verdict without it)",
        help_text="12 hours at 18.3 °C (65 °F) or warmer are asked: common practice.",
    )
    shaded = choice(
        "Out of the sun and away from heat?",
        [("yes", "yes"), ("no", "no")],
        radio=True,
        required=False,
    )
    gauge = choice("Gauge", (), required=False)

    def __init__(self, *args: Any, access: Access, **options: Any) -> None:
        super().__init__(*args, access=access, **options)
        self.fields["shaded"].optional_words = "(no verdict without it)"  # type: ignore[attr-defined]
        gauges = Gauge.objects.filter(book=access.book, retired=False, kind="pressure gauge").order_by("name")
        self.gauges = {str(gauge.pk): gauge for gauge in gauges}
        set_choices(self, "gauge", [("", "not entered"), *((key, one.name) for key, one in self.gauges.items())])

    @property
    def air_reading(self) -> AirReading:
        """What was read, with what was typed; only of a form that is valid."""
        cleaned = self.cleaned_data
        waited, gauge = cleaned.get("waited"), self.gauges.get(cleaned.get("gauge") or "")
        typed = {name: cleaned[name].echo for name in ("pressure", "temperature", "waited") if cleaned.get(name)}
        typed |= {"shaded": cleaned.get("shaded") or "", "gauge": gauge.name if gauge else ""}
        return AirReading(
            pressure_pa=cleaned["pressure"].si,
            temperature_k=cleaned["temperature"].si,
            waited_s=waited.si if waited else None,
            shaded=cleaned["shaded"] == "yes" if cleaned.get("shaded") else None,
            gauge=gauge,
            typed={name: text for name, text in typed.items() if text},
        )
