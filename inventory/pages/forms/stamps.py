"""What is stamped on a cylinder, in the forms that ask for it: what is kept of it, and a limit that cannot be."""

from typing import Any

from django import forms

from inventory.measure.masses import Mass
from inventory.pages.forms.parts import mg_of, si_of
from inventory.pages.forms.slips import ask

MOST_FILLED_MG_PER_M3 = 1.4e9  # 1.4 kg a litre: above every printed filling ratio


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
