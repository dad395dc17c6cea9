"""A cylinder goes away with all it holds, what the receiver says of it, and it comes back."""

from dataclasses import dataclass
from datetime import date

from inventory.acts.grading import become
from inventory.acts.writing import one_entry
from inventory.book import weighing
from inventory.book.draft import Draft
from inventory.book.refusals import Refused
from inventory.book.weighing import Gross
from inventory.models import Consignment, Cylinder, Partner, Weighing


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
    """Note beside a consignment what the receiver's paper says; nothing is posted."""
    consignment.accepted_mg, consignment.accepted_oil_mg = accepted_mg, oil_mg
    consignment.accepted_on, consignment.paper_number = on, paper or consignment.paper_number
    consignment.save(update_fields=["accepted_mg", "accepted_oil_mg", "accepted_on", "paper_number"])
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
