"""What stands around the form of a step: the cautions that belong to this visit and this act, and photos that come only
when a form that stands in the book is sent again.
"""

from collections.abc import Callable
from typing import Any

from inventory.book.refusals import LedgerError
from inventory.gases.cautions import cautions_for, places_of
from inventory.measure.own import Units
from inventory.models import Entry
from inventory.pages.forms.act import BookForm
from inventory.pages.forms.photos import photo_fields, taken_in
from shop.models import Visit
from shop.visits.acts.entering import add_late_photos
from shop.visits.doubts import may_hold_gas, wait_first
from shop.visits.gas import inside_now, lines_of, standing
from shop.visits.steps import StepKind


def around(visit: Visit, kind: StepKind, units: Units) -> dict[str, Any]:
    """Return the visit, the kind of step and its cautions, as its page shows them."""
    places = list(kind.cautions)
    if visit.vehicle.electric_compressor and kind.name in ("received", "circuit opened", "oil balance", "flush"):
        places.append("electric")
    if kind.name == "circuit opened" and may_hold_gas(visit):
        places.append("part-recovered")
    code = _gas_of_the_act(visit, kind)
    places += places_of([code])
    if code and "flammable" in kind.cautions and "flammable" not in places_of([code]):
        places.remove("flammable")
    return {
        "visit": visit,
        "kind": kind,
        "cautions": cautions_for(*places),
        "cautions_of": visit.context,
        "wait_first": wait_first(visit, units) if kind.name == "circuit opened" else "",
    }


def _gas_of_the_act(visit: Visit, kind: StepKind) -> str:
    """Return the refrigerant that a step is about: of a conversion the new one, once it is in; else what is in it.

    Empty where nobody knows it.
    """
    charged = lines_of(standing(visit), "charge")
    if kind.name == "conversion done":
        return charged[-1].refrigerant if charged else ""
    return inside_now(visit)


def photos_late(form: BookForm) -> Callable[[Entry], str]:
    """Return what keeps the photos that came only when a form that stands in the book was sent again.

    It says why where a photo was not kept, since the page of the form is gone; the photo can be added from the log.
    """

    def keep(entry: Entry) -> str:
        refused = [str(words) for name in photo_fields(form) for words in form.errors.get(name, ())]
        try:
            add_late_photos(entry, taken_in(form))
        except LedgerError as error:
            refused.append(str(error))
        return f"A photo was not kept: {' '.join(refused)} Add it there." if refused else ""

    return keep
