"""Sentences of calculations and rules on a page, in the units of the workshop that looks at them."""

from django import template

from shop.models import Workshop
from shop.visits.log import units_of
from shop.visits.shown import in_own_units

register = template.Library()


@register.filter
def own(text: str, workshop: Workshop | None) -> str:
    """Return a sentence that speaks grams, bar and C in the units of a workshop; outside any as it is."""
    return in_own_units(text, units_of(workshop)) if workshop else text
