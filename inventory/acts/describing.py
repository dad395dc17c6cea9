"""What a cylinder is and what is in it, put right: number, purpose, empty mass, grade, refrigerant; off the shelf."""

from collections.abc import Mapping
from typing import Any

from django.db import transaction

from inventory import causes
from inventory.book import emptymass, ledger, weighing
from inventory.book.draft import Draft, Line
from inventory.book.ledger import Act, one_entry
from inventory.book.refusals import Refused
from inventory.book.weighing import Gross
from inventory.gases.catalogue import MIXED
from inventory.measure import marks
from inventory.measure.figures import show_mass
from inventory.models import Account, Analysis, Book, Cylinder, Entry, Weighing
from inventory.models.likeness import alike
from inventory.shelf.queries import content_of


def refuse_second_serial(book: Book, serial: str, own: Cylinder | None = None) -> None:
    """Raise Refused for a number that another cylinder still in use has."""
    known = next((one for one in cylinders_like(book, serial, own) if marks.same(one.serial, serial)), None)
    if known is not None:
        raise Refused(f"A cylinder numbered {known} is on the shelf already. Open it, or check the number.")


def cylinders_like(book: Book, serial: str, own: Cylinder | None = None) -> list[Cylinder]:
    """Return the cylinders still in use that may be meant by a number, the same ones first; not `own`."""
    rows = Cylinder.objects.filter(account__book=book).exclude(state="done with").select_related("account")
    return [one for one in alike(rows, "serial", serial) if own is None or one.pk != own.pk]


@one_entry()
def correct_tare(draft: Draft, gross: Gross) -> None:
    """Give a cylinder, weighed empty and evacuated, its true tare; what the book held in it is posted apart."""
    cylinder = gross.cylinder
    content = draft.content(cylinder.account)
    known_mg = abs(gross.gross_mg - cylinder.tare_mg) + 2 * gross.scale.step_mg
    if content is not None and (cylinder.lacks_tare or content[2] > known_mg):
        raise Refused(f"The book has {show_mass(content[2])} in {cylinder}: empty and evacuate it first.")
    u_mg = round(weighing.reading_u_g(gross) * 1000)
    cylinder.tare_mg, cylinder.tare_u_mg, cylinder.tare_source = gross.gross_mg, u_mg, "measured evacuated"
    emptymass.keep(cylinder, draft.occurred_at)
    weighing.read(draft, gross, Weighing.SINGLE)
    if content is not None:
        unexplained = draft.account(causes.UNEXPLAINED)
        draft.move(Line("tare-corrected", cylinder.account, unexplained, *content, "single"))


def change_cylinder(cylinder: Cylinder, **facts: Any) -> Cylinder:
    """Put right what a cylinder is and where it stands; nothing that is a mass. Its account's label follows its number.

    Raises Refused for a number that another cylinder on the shelf has, and for a purpose changed while it holds gas.
    """
    with transaction.atomic(durable=True):
        book = ledger.lock(cylinder.account.book)
        serial = facts.get("serial", cylinder.serial)
        refuse_second_serial(book, serial, cylinder)
        purpose = (facts.get("refrigerant", cylinder.refrigerant), facts.get("grade", cylinder.grade))
        if purpose != (cylinder.refrigerant, cylinder.grade) and content_of(cylinder.account) is not None:
            raise Refused(f"{cylinder} holds gas: enter a change of grade, or what an identifier showed, instead.")
        for name, value in facts.items():
            setattr(cylinder, name, value)
        cylinder.save()
        Account.objects.filter(pk=cylinder.account_id).update(label=serial)
        return cylinder


def discard(cylinder: Cylinder, **facts: Any) -> None:
    """Take an empty cylinder off the shelf for good; `facts` are what is kept of how its heel was removed."""
    if content_of(cylinder.account) is not None:
        raise Refused(f"{cylinder} still holds gas by the book. Enter where it went first.")
    for name, value in {**facts, "state": "done with"}.items():
        setattr(cylinder, name, value)
    cylinder.save(update_fields=[*facts, "state"])


def regrade(book: Book, act: Act, cylinder: Cylinder, *, grade: str) -> Entry:
    """Change the grade of all that a cylinder holds; the evidence stands in the act's remark."""
    return _through_process(book, act, cylinder, "regrade", grade=grade)


def reidentify(
    book: Book, act: Act, cylinder: Cylinder, *, refrigerant: str, parts: Mapping[str, str], instrument: str = ""
) -> Entry:
    """Enter that an identifier says a content is something else; a mixed content becomes suspect."""
    grade = "suspect" if refrigerant == MIXED else None
    return _through_process(
        book, act, cylinder, "re-identified", code=refrigerant, grade=grade, parts=parts, instrument=instrument
    )


@one_entry()
def _through_process(
    draft: Draft,
    cylinder: Cylinder,
    cause: str,
    *,
    code: str | None = None,
    grade: str | None = None,
    parts: Mapping[str, str] | None = None,
    instrument: str = "",
) -> None:
    content = draft.content(cylinder.account)
    if content is None:
        raise Refused(f"{cylinder} holds nothing; its purpose is changed on its page.")
    into = (code or content[0], grade or content[1])
    if into[0] == MIXED and into[1] != "suspect":
        raise Refused("A mixture stays suspect. Send it away, or enter what an identifier showed.")
    if into == content[:2]:
        raise Refused(f"{cylinder} holds {content[0]} {content[1]} already.")
    process = draft.account(causes.PROCESS)
    draft.move(Line(cause, cylinder.account, process, *content, "rest"))
    draft.move(Line(cause, process, cylinder.account, *into, content[2], "rest"))
    become(cylinder, *into)
    if parts is not None:
        draft.then(lambda entry: note_parts(cylinder.account, entry, parts, instrument))


def become(cylinder: Cylinder, refrigerant: str, grade: str) -> None:
    """Let a cylinder be for this refrigerant and grade from now on."""
    cylinder.refrigerant, cylinder.grade = refrigerant, grade
    if grade == "suspect":
        cylinder.state = "suspect"
    elif cylinder.state == "suspect":
        cylinder.state = "ready"
    cylinder.save(update_fields=["refrigerant", "grade", "state"])


def note_parts(account: Account, entry: Entry, parts: Mapping[str, str], instrument: str = "") -> Analysis:
    """Keep what an identifier showed beside the entry that rests on it."""
    return Analysis.objects.create(
        account=account, entry=entry, occurred_at=entry.occurred_at, parts=dict(parts), instrument=instrument
    )
