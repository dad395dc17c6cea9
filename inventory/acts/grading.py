"""What is in a cylinder is of another grade, or of another refrigerant, than was thought."""

from collections.abc import Mapping

from inventory import causes
from inventory.acts.writing import one_entry
from inventory.book.draft import Draft, Line
from inventory.book.ledger import Act
from inventory.book.refusals import Refused
from inventory.gases.catalogue import MIXED
from inventory.models import Account, Analysis, Book, Cylinder, Entry


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
