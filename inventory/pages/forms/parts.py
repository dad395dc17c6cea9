"""Parts of many forms: a choice, a text, the refrigerants and partners to choose from."""

from collections.abc import Collection, Iterable, Sequence
from typing import Any

from django import forms

from inventory.gases import catalogue
from inventory.gases.catalogue import MIXED
from inventory.models import Book, Cylinder, Partner

CHOOSE = ("", "choose")
MIXED_WORDS = "MIXED, not one refrigerant"
IN_VEHICLES = ("R-134a", "R-1234yf", "R-12", "R-744", "R-152a")  # what they are built for: common practice, no source
FIRST, OTHERS = "in vehicles, or here", "all others"


def choice(label: str, choices: Sequence[Any], *, radio: bool = False, **options: Any) -> forms.ChoiceField:
    """Return a field of one choice, with a sentence of ours where none was made."""
    what = options.pop("what", label.lower())
    options.setdefault("error_messages", {"required": f"Choose the {what}.", "invalid_choice": f"Choose the {what}."})
    widget = forms.RadioSelect if radio else forms.Select
    return forms.ChoiceField(label=label, choices=choices, widget=widget, **options)


def text(label: str, *, what: str = "", long: bool = False, **options: Any) -> forms.CharField:
    """Return a field of free text, with a sentence of ours where it is missing."""
    options.setdefault("error_messages", {"required": f"Enter the {what or label.lower()}."})
    widget = forms.Textarea(attrs={"rows": 3}) if long else forms.TextInput(attrs={"autocomplete": "off"})
    return forms.CharField(label=label, widget=widget, **options)


def refrigerant_choices(book: Book) -> list[Any]:
    """Return the refrigerants to choose from: those of vehicles and of this book first, then all others."""
    return [CHOOSE, *refrigerant_groups(in_cylinders(book)), (MIXED, MIXED_WORDS)]


def in_cylinders(book: Book) -> set[str]:
    """Return the refrigerants that the cylinders of a book hold or held."""
    return set(Cylinder.objects.filter(account__book=book).values_list("refrigerant", flat=True).distinct())


def refrigerant_groups(here: Collection[str]) -> list[Any]:
    """Return every refrigerant in two groups: what vehicles commonly have and what is `here`, then all others."""
    codes = [one.code for one in catalogue.refrigerants()]
    first = [*IN_VEHICLES, *(code for code in codes if code in here and code not in IN_VEHICLES)]
    others = [code for code in codes if code not in first]
    return [(words, [(code, code) for code in group]) for words, group in ((FIRST, first), (OTHERS, others))]


def partner_choices(partners: Iterable[Partner]) -> list[tuple[str, str]]:
    """Return partners to choose from, by their account's number."""
    return [CHOOSE, *((str(one.account.number), f"{one.name}, {one.kind}") for one in partners)]


def partners_of(book: Book) -> list[Partner]:
    """Return the partners of a book that are in use, by name."""
    used = Partner.objects.filter(account__book=book, account__joined_to=None, retired=False)
    return list(used.select_related("account").order_by("name"))


def set_choices(form: forms.Form, name: str, choices: Sequence[Any]) -> None:
    """Let the field `name` of a form offer these choices."""
    field = form.fields[name]
    assert isinstance(field, forms.ChoiceField)  # noqa: S101 - for the type
    field.choices = choices


def si_of(value: Any) -> float | None:
    return None if value is None else float(value.si)


def mg_of(value: Any) -> int | None:
    return None if value is None else int(value.mg)


def typed_of(value: Any) -> str:
    return value.text if any(char.isalpha() for char in value.text) else f"{value.text} {value.unit}"
