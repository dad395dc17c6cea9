"""A cylinder moves between two workshops: out of one book and into the other, in one transaction."""

from django.db import transaction

from inventory.acts.receiving import NewCylinder, about, brought_in, create_cylinder
from inventory.book import ledger, weighing
from inventory.book.draft import Draft, Line
from inventory.book.ledger import Act
from inventory.book.refusals import Refused
from inventory.book.weighing import Gross
from inventory.models import Cylinder, Entry, Partner, Weighing
from inventory.models.likeness import exactly

CAUSES = ("moved-to-sister", "came-from-sister")


def move_to_sister(act: Act, gross: Gross, there: Partner, here: Partner) -> tuple[Entry, Entry, Cylinder]:
    """Move a cylinder with its content out of one book and into another, in one transaction.

    `there` is the sister as a partner of this book, `here` this workshop as a partner of the sister's book. Both books
    are locked in order of id; the second entry holds the first one's digest.
    """
    cylinder, home, sister = gross.cylinder, gross.cylinder.account.book, here.account.book

    def leave(draft: Draft) -> None:
        weighing.settle(draft, gross, Weighing.SINGLE)
        content = draft.content(cylinder.account)
        if content is None:
            raise Refused(f"{cylinder} holds nothing by the book.")
        weighing.move_all(draft, gross, "moved-to-sister", cylinder.account, there.account, content)
        cylinder.turn("away")

    def arrive(draft: Draft) -> None:
        moved = out.movements.get(cause="moved-to-sister")
        twin = _twin(draft, cylinder)
        content = (moved.refrigerant, moved.grade, int(moved.mass_mg))
        draft.move(Line("came-from-sister", here.account, twin.account, *content, "paper", round(moved.u_mg)))

    with transaction.atomic(durable=True):
        locked = {book.pk: ledger.lock(book) for book in sorted((home, sister), key=lambda book: book.pk)}
        out = ledger.write_locked(locked[home.pk], act, leave)
        into = ledger.write_locked(locked[sister.pk], act, arrive, seals=out.digest)
        return out, into, brought_in(into)


def _twin(draft: Draft, cylinder: Cylinder) -> Cylinder:
    """Return the sister's record of a cylinder: the one it had before, or a new one with the same facts."""
    away = Cylinder.objects.filter(account__book=draft.book, state="away")
    known = next(iter(exactly(away, "serial", cylinder.serial)), None)
    if known is None:
        names = [name for name in NewCylinder.__dataclass_fields__ if hasattr(cylinder, name)]
        return create_cylinder(draft, NewCylinder(**{name: getattr(cylinder, name) for name in names}))
    known.state, known.tare_mg, known.tare_u_mg = "ready", cylinder.tare_mg, cylinder.tare_u_mg
    known.refrigerant, known.grade = cylinder.refrigerant, cylinder.grade
    known.save()
    about(draft, known)
    return known
