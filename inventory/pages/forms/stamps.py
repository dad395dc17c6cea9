"""What stands on a cylinder, in the forms that ask for it: its number, which no other in use may have, and stamps."""

from typing import Any
from uuid import UUID

from django import forms

from inventory.acts.describing import cylinders_like
from inventory.measure.displays import in_book
from inventory.measure.marks import same
from inventory.measure.masses import Mass
from inventory.measure.own import WATER_KG_M3
from inventory.measure.slips import within
from inventory.models import Cylinder, Entry
from inventory.pages import links
from inventory.pages.fields.named import Known, NamedField, ask_look_alike, refuse_same
from inventory.pages.forms.act import PlainForm
from inventory.pages.forms.parts import mg_of, si_of
from inventory.pages.forms.slips import ask

MOST_FILLED_MG_PER_M3 = 1.4e9  # 1.4 kg a litre: above every printed filling ratio

WATER_PER_EMPTY_MASS = (0.3, 5.0)
"""The mass of water that a cylinder filled again takes, in masses of its own, from thick steel to thin.

Common practice, no source: most stand between 1 and 2.5, so that a mark slipped by one place falls outside either way.
"""


def stamped_facts(form: forms.Form) -> dict[str, Any]:
    """Return what is kept of the stamps and the machine, by the names of `Cylinder`; only of a form that is valid."""
    of = form.cleaned_data.get
    return {
        "water_capacity_m3": si_of(of("water_capacity")),
        "filling_limit_mg": mg_of(of("filling_limit")),
        "service_pressure_pa": si_of(of("service_pressure")),
        "requalify_by": of("requalify_by"),
        "machine_limit_mg": mg_of(of("machine_limit")),
        "recycles": bool(of("recycles")),
    }


def ask_about_limit(form: forms.Form) -> None:
    """Refuse a stamped filling limit of nothing, and ask about one that is more than the cylinder holds of water.

    The highest printed ratio in ``data/filling-ratios.csv`` is 1.32 kg a litre, of R-C318.
    """
    limit, capacity = (form.cleaned_data.get(name) for name in ("filling_limit", "water_capacity"))
    if not isinstance(limit, Mass):
        return
    if limit.mg <= 0:
        form.add_error("filling_limit", "A limit of nothing is none. Leave it empty where none is stamped.")
    elif capacity is not None and limit.mg > (most_mg := capacity.si * MOST_FILLED_MG_PER_M3):
        sentence = f"{limit.echo} is more than {capacity.echo} can take of any refrigerant. Net mass, not gross?"
        ask(form, "filling_limit", sentence, likely=lambda value: value.mg <= most_mg)


def ask_about_capacity(form: PlainForm, tare_mg: int | None) -> None:
    """Ask about a water capacity that no cylinder of this empty mass has: the filling limit is reckoned from it."""
    capacity = form.cleaned_data.get("water_capacity")
    if capacity is None or not tare_mg or tare_mg <= 0:
        return
    low, high = (times * tare_mg / 1e6 / WATER_KG_M3 for times in WATER_PER_EMPTY_MASS)
    if low <= capacity.si <= high:
        return
    assert form.access is not None  # noqa: S101 - for the type
    times = capacity.si * WATER_KG_M3 * 1e6 / tare_mg
    sentence = (
        f"By {capacity.echo} it takes {times:.2g} times its empty mass of {in_book(tare_mg, form.units.mass)} in "
        f"water; cylinders usually take between {WATER_PER_EMPTY_MASS[0]:g} and {WATER_PER_EMPTY_MASS[1]:g} times "
        "theirs. Check both figures."
    )
    ask(form, "water_capacity", sentence, likely=within(low, high))


STATE_SAID = {"away": "away; enter there that it came back", "put aside": "put aside"}


def serial_field() -> NamedField:
    """Return the field; its form judges the number by `serial_of_no_other`."""
    return NamedField(label="Number on it", error_messages={"required": "Enter the number on the cylinder."})


def serial_of_no_other(form: PlainForm, own: Cylinder | None = None) -> str:
    """Return the number that was entered, where no other cylinder in use has it; ask about a look-alike."""
    said, access = form.cleaned_data["serial"], form.access
    assert access is not None  # noqa: S101 - for the type
    if (own is not None and same(own.serial, said)) or _was_written(form):
        return str(said)
    others = [
        Known(one.serial, STATE_SAID.get(one.state, "here"), links.address(access, "cylinder", one.account.number))
        for one in cylinders_like(access.book, said, own)
    ]
    refuse_same(said, others, "A cylinder numbered {} is on the shelf already. Open it, or check the number.")
    ask_look_alike(said, others, leads=True)
    return str(said)


def _was_written(form: PlainForm) -> bool:
    """Whether this very form was written before: its number is then its own."""
    key = form.cleaned_data.get("key")
    assert form.access is not None  # noqa: S101 - for the type
    return isinstance(key, UUID) and Entry.objects.filter(book=form.access.book, request_key=key).exists()
