"""Photos that come only when a form that stands in the book is sent again."""

from collections.abc import Callable

from inventory.book.refusals import LedgerError
from inventory.models import Entry
from inventory.pages.forms.act import BookForm
from inventory.pages.forms.photos import photo_fields, taken_in
from shop.visits.acts.entering import add_late_photos


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
