"""How masses, pressures, times and words are written on a page."""

import time
from collections.abc import Mapping
from typing import Any

from django import template
from django.core.exceptions import DisallowedHost
from django.http import HttpRequest
from django.utils import timezone
from django.utils.safestring import SafeString

from inventory.measure import displays
from inventory.measure.figures import parted, show_pressure, show_temperature
from inventory.measure.own import METRIC, Units, pascals
from inventory.measure.spoken import days_in, in_own_units
from inventory.output.days import NOT_ENTERED, ago, clock, day, ends, to_the_second, when
from inventory.pages import cautions, comeback
from inventory.pages.panels import panels_of

register = template.Library()

APPEARANCES = ("light", "dark")


@register.filter
def mass(mg: int | None, units: Units = METRIC) -> str:
    """Return whole milligrams in kilograms, pounds or pounds and ounces, to one gram or its like."""
    return NOT_ENTERED if mg is None else displays.in_book(int(mg), units.mass)


@register.filter
def mass_figure(mg: int | None, units: Units = METRIC) -> str:
    """Return whole milligrams in kilograms, pounds or pounds and ounces, for a column whose head says which."""
    return NOT_ENTERED if mg is None else displays.columned(int(mg), units.column)


@register.filter
def small(mg: int | None, units: Units = METRIC) -> str:
    """Return a small mass in grams; in ounces where masses are in pounds."""
    return NOT_ENTERED if mg is None else units.small_mass_said(int(mg))


@register.filter
def moved(mg: int | None, units: Units = METRIC) -> str:
    """Return a mass that passes between a cylinder and a vehicle: kilograms, or pounds with ounces."""
    return NOT_ENTERED if mg is None else units.mass_said(int(mg))


@register.filter
def small_signed(mg: int | None, units: Units = METRIC) -> str:
    """Return a small mass with its sign, plus too."""
    return f"+{small(mg, units)}" if mg and mg > 0 else small(mg, units)


@register.filter
def give_or_take(u_mg: float | None, units: Units = METRIC) -> str:
    """Return twice a standard uncertainty in milligrams, as "give or take 4 g", or in ounces."""
    return "not measured" if u_mg is None else f"give or take {units.small_mass_said(2 * u_mg)}"


@register.filter
def own(text: str, units: Units = METRIC) -> str:
    """Return a sentence that speaks grams, bar, C and ISO days in the units of who reads it."""
    return in_own_units(text, units)


@register.filter
def own_days(text: str, units: Units = METRIC) -> str:
    """Return a text with its ISO days and its times of day as who reads it has chosen."""
    return days_in(text, units)


@register.filter
def pressure(pa: float | None, units: Units = METRIC) -> str:
    """Return an absolute pressure as gauge and absolute, against the workshop's atmosphere."""
    if pa is None:
        return NOT_ENTERED
    return show_pressure(pa, atmosphere_pa=units.atmosphere_pa, unit=units.pressure)


@register.filter
def temperature(kelvin: float | None, units: Units = METRIC) -> str:
    """Return a temperature in kelvin in degrees."""
    return NOT_ENTERED if kelvin is None else show_temperature(kelvin, "F" if units.temperature == "F" else "C")


@register.filter
def air_pressure(pa: float, units: Units = METRIC) -> str:
    """Return the pressure of the air in the unit of a barometer."""
    return f"{pa / pascals(units.barometer):.4g} {units.barometer}"


@register.filter
def height(metres: float, units: Units = METRIC) -> str:
    """Return a height above the sea."""
    return f"{metres / 0.3048:.0f} ft" if units.length == "ft" else f"{metres:g} m"


@register.filter
def volume(m3: float | None, units: Units = METRIC) -> str:
    """Return a volume of a cylinder or a circuit."""
    return NOT_ENTERED if m3 is None else units.volume_said(m3)


@register.filter
def water(m3: float | None, units: Units = METRIC) -> str:
    """Return a cylinder's water capacity, in litres or in pounds of water."""
    return units.water_said(m3) if m3 else NOT_ENTERED


for written in (parted, ago, day, when, clock, to_the_second, ends):
    register.filter(written)


@register.simple_tag(takes_context=True)
def now_said(context: Mapping[str, Any]) -> str:
    """Return the present day and time as who reads it has chosen; a page of a fault may know of nobody."""
    return when(timezone.now(), context.get("units") or METRIC)


@register.filter
def said(value: object) -> object:
    """Return a value, or "not entered" where there is none."""
    return NOT_ENTERED if value in (None, "") else value


@register.inclusion_tag("_cautions_above.html", takes_context=True)
def cautions_above(context: Mapping[str, Any]) -> dict[str, object]:
    """Show where the act begins the headings of the page's `cautions`, and one line that opens for those read."""
    return {"standing": _standing_of(context), "units": context["units"]}


@register.inclusion_tag("_cautions_full.html", takes_context=True)
def cautions_full(context: Mapping[str, Any]) -> dict[str, object]:
    """Show before the button the page's unread `cautions` in full, with the button that folds them."""
    return {"standing": _standing_of(context), "request": context["request"], "units": context["units"]}


def _standing_of(context: Mapping[str, Any]) -> cautions.Standing | None:
    """Return how the page's cautions stand; None where it has none."""
    found = context.get("cautions")
    return cautions.standing_of(context["request"], found, context.get("cautions_of", "")) if found else None


@register.filter
def appearance(request: HttpRequest | None) -> str:
    """Return the palette chosen in the session or cookie, as a class of the page; empty follows the machine."""
    chosen = request.COOKIES.get("appearance", "") if request else ""
    return chosen if chosen in APPEARANCES else ""


@register.filter
def printed_address(request: HttpRequest | None) -> str:
    """Return the address that a printed page bears; nothing where the machine was asked under a name not its own."""
    try:
        return f"{request.get_host()}{request.path}" if request else ""
    except DisallowedHost:
        return ""


@register.filter
def session_left(request: HttpRequest) -> int:
    """Return the seconds until the person's session ends, counted from signing in; 0 where that is not known."""
    ends_at = request.session.get("ends", 0) if hasattr(request, "session") else 0
    return max(0, int(ends_at - time.time()))


@register.simple_tag(takes_context=True)
def created_here(context: Mapping[str, Any], field: Any) -> comeback.Shown | None:
    """Return what may be created from below a field: ``{% created_here field as new %}``."""
    return comeback.offered(field, context.get("access"))


@register.simple_tag(takes_context=True)
def panels(context: Mapping[str, Any], kind: str, name: object = "") -> SafeString:
    """Show what floors above have to say of a record: ``{% panels "visit" visit.number %}``."""
    return panels_of(context["request"], f"{kind}:{name}" if name != "" else kind)
