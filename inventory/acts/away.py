"""A cylinder leaves the shelf, sent away, moved to a sister workshop or lost, and comes back or turns up."""

from dataclasses import dataclass
from datetime import date

from django.db import transaction

from inventory import causes
from inventory.acts.describing import become
from inventory.acts.receiving import about, brought_in, create_cylinder
from inventory.book import ledger, weighing
from inventory.book.draft import Draft, Line
from inventory.book.ledger import Act, one_entry
from inventory.book.refusals import Refused
from inventory.book.weighing import Gross, parts_mg
from inventory.models import Consignment, Cylinder, Entry, Partner, Weighing
from inventory.models.likeness import exactly

SISTER_CAUSES = ("moved-to-sister", "came-from-sister")
WROTE_OFF = ("missing", "scrapped-with-rest")
"""Causes with which the cylinder itself is done with."""


@dataclass(frozen=True)
class Dispatch:
    """Where a cylinder goes, why, and under which number."""

    partner: Partner
    cause: str  # sent-away, heel-returned, passed-on
    purpose: str
    number: str
    paper_number: str = ""


@one_entry()
def send_away(draft: Draft, gross: Gross, dispatch: Dispatch) -> None:
    """Weigh a cylinder and send it away with all it holds."""
    cylinder = gross.cylinder
    cylinder.refresh_from_db(fields=["state"])
    if cylinder.is_gone:
        raise Refused(f"{cylinder} is {cylinder.state} already.")
    _check_purpose(draft, cylinder, dispatch)
    weighing.settle(draft, gross, Weighing.SINGLE)
    if (content := draft.content(cylinder.account)) is not None:
        weighing.move_all(draft, gross, dispatch.cause, cylinder.account, dispatch.partner.account, content)
    cylinder.turn("away")
    draft.then(
        lambda entry: Consignment.objects.create(
            entry=entry,
            number=dispatch.number or str(entry.seq),
            purpose=dispatch.purpose,
            partner=dispatch.partner,
            cylinder=cylinder,
            paper_number=dispatch.paper_number,
        )
    )


def _check_purpose(draft: Draft, cylinder: Cylinder, dispatch: Dispatch) -> None:
    content = draft.content(cylinder.account)
    recovered = content is not None and content[1] in ("recovered", "suspect")
    if dispatch.cause == "passed-on" and recovered and dispatch.purpose not in ("reclaim", "destruction"):
        raise Refused(
            "Recovered gas is passed on to another owner only for reclaim or destruction "
            "(42 U.S.C. 7675(h)(2)(B), for HFC). Send it to a reclaimer, or name that purpose."
        )


def accept(consignment: Consignment, *, accepted_mg: int, oil_mg: int | None, on: date, paper: str) -> Consignment:
    """Note beside a consignment what the receiver's paper says; nothing is posted, and the sender's number stays."""
    consignment.accepted_mg, consignment.accepted_oil_mg = accepted_mg, oil_mg
    consignment.accepted_on, consignment.accepted_paper = on, paper or consignment.accepted_paper
    noted = ("accepted_mg", "accepted_oil_mg", "accepted_on", "accepted_paper", "accepted_likeness")
    consignment.save(update_fields=noted)
    return consignment


@one_entry()
def come_back(draft: Draft, gross: Gross, partner: Partner, *, cause: str = "came-back") -> None:
    """Take a cylinder back onto the shelf with what it holds by its weighing (came-back, returned-reclaimed)."""
    cylinder = gross.cylinder
    cylinder.refresh_from_db(fields=["state"])
    if cylinder.state != "away":
        raise Refused(f"{cylinder} is here: it cannot come back.")
    code, grade, _ = weighing.content_or_last(draft, cylinder)
    if cause == "returned-reclaimed":
        grade = "reclaimed"
    mass_mg, _ = weighing.single_net(draft, gross)
    if mass_mg > 0:
        weighing.move_all(draft, gross, cause, partner.account, cylinder.account, (code, grade, mass_mg))
    cylinder.turn("ready")
    become(cylinder, code, grade)


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
        own = ("id", "account", "state", "label")
        facts = [one.name for one in Cylinder._meta.concrete_fields if one.name not in own]
        return create_cylinder(draft, Cylinder(**{name: getattr(cylinder, name) for name in facts}))
    known.state, known.tare_mg, known.tare_u_mg = "ready", cylinder.tare_mg, cylinder.tare_u_mg
    known.refrigerant, known.grade = cylinder.refrigerant, cylinder.grade
    known.save()
    about(draft, known)
    return known


@one_entry()
def lose(draft: Draft, cylinder: Cylinder, cause: str, *, before: Gross | None, after: Gross | None) -> None:
    """Enter a loss: by a pair of readings (purge, leaked-from-stock, was-oil), or all that the cylinder held."""
    kind = {"missing": causes.UNEXPLAINED, "was-oil": causes.OPENING}.get(cause, causes.AIR)
    target = draft.account(kind)
    if after is not None:
        weighing.optional_before(draft, before)
        code, grade, _ = weighing.content_or_last(draft, cylinder)
        gained_mg, u = weighing.passed(draft, after)
        if gained_mg >= 0:
            raise Refused("By these readings nothing left the cylinder. Read the scale again.")
        left, parts = (code, grade, -gained_mg), parts_mg(u)
        draft.move(Line(cause, cylinder.account, target, *left, "pair", *parts, scale=after.scale))
        return
    content = draft.content(cylinder.account)
    if content is None:
        raise Refused(f"The book has nothing in {cylinder}.")
    draft.move(Line(cause, cylinder.account, target, *content, "rest"))
    if cause in WROTE_OFF:
        cylinder.turn("done with")


@one_entry()
def turn_up(draft: Draft, gross: Gross) -> None:
    """Take a cylinder that the book thought gone back onto the shelf, by its weighing."""
    cylinder = gross.cylinder
    if draft.content(cylinder.account) is not None:
        raise Refused(f"The book has gas in {cylinder}: weigh it instead.")
    code, grade, _ = weighing.content_or_last(draft, cylinder)
    mass_mg, _ = weighing.single_net(draft, gross)
    if mass_mg > 0:
        unexplained = draft.account(causes.UNEXPLAINED)
        weighing.move_all(draft, gross, "turned-up", unexplained, cylinder.account, (code, grade, mass_mg))
    cylinder.turn("ready")
