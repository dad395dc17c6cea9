"""What can be created from within a form: the buttons below its fields, which `comeback` leads there and back."""

from dataclasses import dataclass
from typing import Any

from inventory.models.access import Access


@dataclass(frozen=True)
class Offer:
    """What can be created from within a form: the page that does it, the words of the button, and who may.

    `otherwise` is said to a technician where only the owner may, where there is nothing to choose or `always`;
    ``{owners}`` in it becomes their names.
    """

    page: str
    words: str
    owner_only: bool = False
    otherwise: str = ""
    always: bool = False
    query: str = ""  # what the page begins with


OFFERS: dict[str, Offer] = {
    "scale": Offer("scale-new", "Enter a scale", True, "A scale is entered by the owner: {owners}."),
    "supplier": Offer("partner-new", "Enter a supplier", query="kind=supplier"),
    "reclaimer": Offer("partner-new", "Enter a reclaimer", query="kind=reclaimer"),
    "customer": Offer("partner-new", "Enter a customer", query="kind=customer"),
    "partner": Offer("partner-new", "Enter a partner"),
    "vehicle": Offer("vehicle-new", "Enter a vehicle"),
    "visit": Offer("visit-new", "Start a visit for another vehicle"),
    "person": Offer("person-new", "Add a person", True, "Another person is added by the owner: {owners}.", True),
    **{
        kind: Offer(
            "gauge-new",
            f"Enter {words}",
            True,
            f"{words.capitalize()} is entered by the owner: {{owners}}.",
            query=query,
        )
        for kind, words, query in (
            ("gauge", "a gauge", "kind=pressure+gauge"),
            ("vacuum-gauge", "a gauge", "kind=vacuum+gauge"),
            ("thermometer", "a thermometer", "kind=thermometer"),
            ("identifier", "an identifier", "kind=identifier"),
            ("leak-detector", "a leak detector", "kind=leak+detector"),
        )
    },
    "height": Offer("settings-workshop", "Enter the height", True),
}


@dataclass(frozen=True)
class Shown:
    """What stands below a field: a button that sends `value` as ``go``, or a sentence for who may not."""

    words: str
    value: str = ""


def shown(field: Any, access: Access | None) -> Shown | None:
    """Return what is offered below a bound field to the person of the request, or None."""
    offer = OFFERS.get(getattr(field.field, "created_by", ""))
    if offer is None or access is None or not access.may_write:
        return None
    if offer.owner_only and not access.is_owner:
        needed = offer.always or not getattr(field.field, "entered", field.field.choices)
        owners = ", ".join(access.owners()) if offer.otherwise and needed else ""
        return Shown(offer.otherwise.format(owners=owners)) if owners else None
    return Shown(offer.words, f"{field.field.created_by} {field.html_name}")
