"""Forms of the pages outside any workshop: signing in, the second factor, the first set-up, how it looks."""

import re
from collections.abc import Mapping, Sequence
from typing import Any

from django import forms
from django.contrib.auth.password_validation import validate_password
from django.core.exceptions import ValidationError

from inventory.gases.potentials import GWP_BASES
from inventory.measure import own
from inventory.measure.atmosphere import OutsideAtmosphere, air_at
from inventory.measure.own import pascals
from inventory.pages.fields.quantity import LengthField
from inventory.pages.forms.act import PlainForm
from inventory.pages.forms.parts import set_choices, si_of
from shop.models import Membership, User, Workshop
from shop.people import setup

BASIS_WORDS = {
    "SAR": "second report of the IPCC (SAR)",
    "TAR": "third report of the IPCC (TAR)",
    "AR4": "fourth report of the IPCC (AR4)",
    "AR5": "fifth report of the IPCC (AR5)",
    "AR6": "sixth report of the IPCC (AR6)",
    "EU": "European Union law",
    "US": "United States law (AIM Act)",
}


class SignInForm(PlainForm):
    """Name and password; password managers and pasting work."""

    username = forms.CharField(
        label="Who are you",
        max_length=150,
        widget=forms.TextInput(attrs={"autocomplete": "username", "autocapitalize": "none", "spellcheck": "false"}),
        error_messages={
            "required": "Enter the name that you sign in with.",
            "max_length": "No name here is so long. Enter the name that you sign in with.",
        },
    )
    password = forms.CharField(
        label="Password",
        strip=False,
        widget=forms.PasswordInput(attrs={"autocomplete": "current-password"}),
        error_messages={"required": "Enter the password."},
    )


class CodeForm(PlainForm):
    """The six digits that an authenticator shows."""

    code = forms.CharField(
        label="Six digits",
        widget=forms.TextInput(attrs={"autocomplete": "one-time-code", "inputmode": "numeric"}),
        error_messages={"required": "Enter the six digits that are shown now."},
    )

    def clean_code(self) -> str:
        """Return the digits alone."""
        digits = re.sub(r"\s", "", str(self.cleaned_data["code"]))
        if not re.fullmatch(r"[0-9]{6}", digits):
            raise ValidationError("The code has six digits. Enter those that are shown now.")
        return digits


class PinForm(PlainForm):
    """A person's own PIN; empty takes it off."""

    pin = forms.CharField(
        label="PIN",
        required=False,
        help_text="Four to eight digits. Left empty, you have none and nobody goes on as you.",
        widget=forms.PasswordInput(attrs={"autocomplete": "off", "inputmode": "numeric"}),
    )


class TakeOverForm(PlainForm):
    """Who takes the phone over, and the PIN of that person."""

    person = forms.ChoiceField(
        label="Who writes now", widget=forms.RadioSelect, error_messages={"required": "Choose who writes now."}
    )
    pin = forms.CharField(
        label="PIN",
        widget=forms.PasswordInput(attrs={"autocomplete": "off", "inputmode": "numeric"}),
        error_messages={"required": "Enter your PIN."},
    )

    def __init__(self, *args: Any, people: Sequence[User], **options: Any) -> None:
        super().__init__(*args, **options)
        self.people = {one.handle: one for one in people}
        set_choices(self, "person", [(handle, str(one)) for handle, one in self.people.items()])
        if len(people) == 1:
            self.initial["person"] = people[0].handle


class OwnerForm(PlainForm):
    """The first person of an installation."""

    code = forms.CharField(
        label="The code from the console",
        help_text="It stands where the program was started.",
        widget=forms.TextInput(attrs={"autocomplete": "off", "spellcheck": "false"}),
        error_messages={"required": "Enter the code from the console."},
    )
    username = forms.CharField(
        label="The name to sign in with",
        widget=forms.TextInput(attrs={"autocomplete": "username", "autocapitalize": "none", "spellcheck": "false"}),
        error_messages={"required": "Enter a name to sign in with."},
    )
    display_name = forms.CharField(
        label="Name as it stands on papers",
        required=False,
        widget=forms.TextInput(attrs={"autocomplete": "name"}),
    )
    password = forms.CharField(
        label="Password",
        strip=False,
        help_text="Ten characters or more. Four unrelated words do well.",
        widget=forms.PasswordInput(attrs={"autocomplete": "new-password"}),
        error_messages={"required": "Enter a password."},
    )

    def clean_code(self) -> str:
        """Refuse any other code than the console's."""
        code = str(self.cleaned_data["code"])
        if not setup.is_setup_code(code):
            raise ValidationError("That is not the code on the console. Look where the program was started.")
        return code

    def clean_username(self) -> str:
        """Refuse what the database would: odd characters, too long."""
        name = str(self.cleaned_data["username"])
        User._meta.get_field("username").run_validators(name)
        return name

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or self.cleaned_data
        if password := cleaned.get("password"):
            try:
                validate_password(password, User(username=cleaned.get("username", "")))
            except ValidationError as error:
                self.add_error("password", error)
        return cleaned


HEIGHT_HINT = "Gauges count from it; a map’s figure will do. Left out: {} is reckoned with."
BY_THE_RULES = " A number alone: feet in the United States, else metres."


class HeightField(LengthField):
    """The height of a workshop; `by_rules`: no unit is chosen yet, and whose rules it works by is asked beside it."""

    by_rules = False

    def offered(self, chosen: str) -> list[tuple[str, str, bool]]:
        if not self.by_rules:
            return super().offered(chosen)
        return [("", "m or ft", True), *((unit, unit, False) for unit in self.units)]


class WorkshopForm(PlainForm):
    """Where the workshop is and whose rules it works by."""

    name = forms.CharField(
        label="Name of the workshop", max_length=120, error_messages={"required": "Enter the name of the workshop."}
    )
    jurisdiction = forms.ChoiceField(
        label="Whose rules", choices=list(Workshop.JURISDICTIONS.items()), widget=forms.RadioSelect, initial="none"
    )
    zone = forms.ChoiceField(
        label="Time zone",
        widget=forms.Select(attrs={"data-zone": ""}),  # book.js proposes this machine's where nothing is chosen
        help_text="Days go by it: choose where clocks stand as here.",
        error_messages={"required": "Choose the time zone.", "invalid_choice": "Choose a time zone from the list."},
    )
    address = forms.CharField(
        label="Address",
        required=False,
        help_text="It stands on every document.",
        widget=forms.Textarea(attrs={"rows": 3, "autocomplete": "street-address"}),
    )
    height = HeightField(
        label="Height above the sea",
        what="height above the sea",
        required=False,
        help_text=HEIGHT_HINT.format("750 to 1040 mbar (22.1 to 30.7 inHg)"),
        known={"lowest_m": -500.0},
    )

    def __init__(self, *args: Any, **options: Any) -> None:
        super().__init__(*args, **options)
        set_choices(self, "zone", [("", "choose"), *zone_choices()])
        height = self.fields["height"]
        assert isinstance(height, HeightField)  # noqa: S101 - for the type
        if self.access is None:
            height.by_rules = not self.data.get("height_unit")
            height.default_unit = "ft" if self.data.get("jurisdiction") == "us" else "m"
            height.help_text += BY_THE_RULES
            return
        air = f"{750e2 / pascals(self.units.barometer):.3g} to {1040e2 / pascals(self.units.barometer):.4g}"
        height.help_text = HEIGHT_HINT.format(f"{air} {self.units.barometer}")
        if isinstance(standing := self.initial.get("height"), float):
            height.stands = self.initial["height"] = self.units.length_typed(standing)

    def clean_height(self) -> Any:
        """Refuse a height that no workshop has."""
        height = self.cleaned_data["height"]
        try:
            air_at(si_of(height))
        except OutsideAtmosphere as error:
            raise ValidationError(str(error)) from None
        return height

    def facts(self) -> dict[str, Any]:
        """Return the workshop's columns."""
        kept = {name: value for name, value in self.cleaned_data.items() if name != "height"}
        height = self.cleaned_data["height"]
        return {**kept, "altitude_m": si_of(height)}

    @classmethod
    def initial_of(cls, shop: Workshop) -> dict[str, Any]:
        """Return what stands in the form."""
        kept = {name: getattr(shop, name) for name in cls.base_fields if name != "height"}
        return {**kept, "height": shop.altitude_m}


def zone_choices() -> list[Any]:
    """Return the time zones by continent or ocean, UTC first."""
    parts: dict[str, list[tuple[str, str]]] = {}
    for name in setup.zones():
        part, _, place = name.partition("/")
        parts.setdefault(part, []).append((name, place.replace("_", " ").replace("/", ", ")))
    return [("UTC", "UTC"), *parts.items()]


def one_of(label: str, choices: Mapping[str, str], help_text: str = "") -> forms.ChoiceField:
    """Return the field for one of the units that masses, pressures or the like can be in."""
    return forms.ChoiceField(label=label, choices=list(choices.items()), widget=forms.RadioSelect, help_text=help_text)


TYPED_DAYS = (
    "Typed as 3/4/2026, a day is read month first where days are said as Mar 4, 2026, else day first; 2026-03-04 is "
    "always read. With Mar 4, 2026 goes 2:05 PM, with the others 14:05; either is read."
)


class RulesForm(PlainForm):
    """Which rules and units the workshop works by."""

    jurisdiction = forms.ChoiceField(
        label="Whose rules", choices=list(Workshop.JURISDICTIONS.items()), widget=forms.RadioSelect
    )
    mass_unit = one_of("Masses in", own.MASSES)
    pressure_unit = one_of("Pressures in", own.PRESSURES)
    vacuum_unit = one_of("A vacuum in", own.VACUUMS)
    temperature_unit = one_of("Temperatures in", own.TEMPERATURES)
    volume_unit = one_of("Volumes in", own.VOLUMES)
    day_order = one_of("Days as", own.DAYS, TYPED_DAYS)
    gwp_basis = forms.ChoiceField(
        label="Basis of CO2 equivalents",
        help_text="Printed with every total; each statement can use another.",
        choices=[(basis, BASIS_WORDS[basis]) for basis in GWP_BASES],
    )

    def put_first(self, proposed: Mapping[str, str]) -> None:
        """Let what is proposed stand first among the choices of each field."""
        for name, value in proposed.items():
            if name not in self.fields:
                continue
            choices: Any = self.fields[name].choices  # type: ignore[attr-defined] # all of them have some
            set_choices(self, name, sorted(choices, key=lambda choice: choice[0] != value))

    def chosen_words(self) -> list[str]:
        """Return what is chosen in each field, in words."""
        found = []
        for name, field in self.fields.items():
            words = dict(field.choices)  # type: ignore[attr-defined] # all of them have some
            found.append(str(words.get(self[name].value(), "")))
        return found

    @classmethod
    def initial_of(cls, shop: Workshop) -> dict[str, Any]:
        """Return what stands in the form."""
        return {name: getattr(shop, name) for name in cls.base_fields}


CHOSEN = {
    "mass": ("Masses in", own.MASSES),
    "pressure": ("Pressures in", own.PRESSURES),
    "vacuum": ("A vacuum in", own.VACUUMS),
    "temperature": ("Temperatures in", own.TEMPERATURES),
    "volume": ("Volumes in", own.VOLUMES),
    "days": ("Days as", own.DAYS),
}


class UnitsForm(PlainForm):
    """The units of one person, each as the workshop has it or another."""

    def __init__(self, *args: Any, member: Membership, **options: Any) -> None:
        super().__init__(*args, initial={name: member.own_units.get(name, "") for name in CHOSEN}, **options)
        for name, (label, choices) in CHOSEN.items():
            field = one_of(label, {"": f"as the workshop: {choices[getattr(member.workshop.units, name)]}", **choices})
            field.required = False
            field.help_text = TYPED_DAYS if name == "days" else ""
            self.fields[name] = field

    @property
    def chosen(self) -> dict[str, str]:
        """What is not left to the workshop."""
        return {name: value for name, value in self.cleaned_data.items() if value}


class AppearanceForm(PlainForm):
    """Light, dark, or as the machine has it."""

    appearance = forms.ChoiceField(
        label="Colours",
        choices=[("", "as this machine has it"), ("light", "dark on light"), ("dark", "light on dark")],
        widget=forms.RadioSelect,
        required=False,
    )
