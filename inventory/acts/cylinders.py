"""What people do with cylinders: one function per act, one transaction, one entry, safe to press twice.

What is about to be done is refused where a rule of the trade forbids it (a single-trip cylinder filled, a limit
passed), with the way out. What has happened can always be entered (`happened=True`); it then stands for all to see.
Masses in milligrams. Every function raises `LedgerError` with a sentence for the person.
"""

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date
from typing import Any
from uuid import uuid5
from zoneinfo import ZoneInfo

from django.db import transaction
from django.db.models import Q
from django.utils import timezone

from inventory import causes
from inventory.book import differences, ledger, weighing
from inventory.book.ledger import Act, Draft, LedgerError, Line
from inventory.book.weighing import Gross, Settled, parts_mg
from inventory.gases import filling
from inventory.gases.catalogue import MIXED
from inventory.measure import marks, uncertainty
from inventory.measure.quantities import show_mass
from inventory.models import (
    Account,
    Analysis,
    Book,
    Consignment,
    Cylinder,
    Entry,
    Holding,
    Movement,
    Partner,
    Scale,
    Tare,
    Weighing,
)
from inventory.models.likeness import alike, exactly
from inventory.shelf import photos
from inventory.shelf.limits import filling_limit


class Refused(LedgerError):
    """The act itself is not allowed; the sentence names the way out."""


@dataclass(frozen=True)
class NewCylinder:
    """What a cylinder is, as entered when it is received; masses in milligrams, SI otherwise."""

    serial: str
    kind: str
    refrigerant: str
    grade: str
    tare_mg: int
    tare_u_mg: int = 0
    tare_source: str = "stamped"
    water_capacity_m3: float | None = None
    filling_limit_mg: int | None = None
    service_pressure_pa: float | None = None
    requalify_by: date | None = None
    place: str = ""
    can_count: int | None = None
    can_content_mg: int | None = None
    machine_limit_mg: int | None = None
    recycles: bool = False
    paper_number: str = ""
    paper_mass_mg: int | None = None
    typed: Mapping[str, str] = field(default_factory=dict)


@dataclass(frozen=True)
class First:
    """How a cylinder's first content is known.

    `basis` is *single* (gross less tare, by the weighing given), *paper*, *count* or *machine*; the last three give
    `mass_mg` and the standard uncertainty `u_mg`.
    """

    cause: str
    basis: str
    partner: Partner | None = None
    mass_mg: int = 0
    u_mg: int = 0


@dataclass(frozen=True)
class FirstReading:
    """The gross reading at receipt."""

    scale: Scale
    gross_mg: int
    typed: str


# --- cylinders come and are described -------------------------------------------------------------------------


def receive_cylinder(
    book: Book, act: Act, new: NewCylinder, first: First | None = None, reading: FirstReading | None = None
) -> Cylinder:
    """Put a cylinder on the shelf, with its first content where it has one; without `first` it comes empty."""

    def build(draft: Draft) -> None:
        _refuse_second_serial(book, new.serial, None)
        cylinder = _create_cylinder(draft.book, new, draft)
        draft.context = f"cylinder:{cylinder.account.number}"
        gross = None
        if reading is not None:
            gross = Gross(cylinder, reading.scale, reading.gross_mg, reading.typed)
        if first is not None:
            _first_content(draft, cylinder, first, gross)
        elif gross is not None:
            weighing.settle(draft, gross, Weighing.SINGLE)

    with transaction.atomic(durable=True):
        entry = ledger.write(book, act, build)
        number = int(entry.context.removeprefix("cylinder:"))
        return Cylinder.objects.select_related("account").get(account__book=book, account__number=number)


def _refuse_second_serial(book: Book, serial: str, own: Cylinder | None) -> None:
    known = next((one for one in cylinders_like(book, serial, own) if marks.same(one.serial, serial)), None)
    if known is not None:
        raise Refused(f"A cylinder numbered {known} is on the shelf already. Open it, or check the number.")


def cylinders_like(book: Book, serial: str, own: Cylinder | None = None) -> list[Cylinder]:
    """Return the cylinders still in use that may be meant by a number, the same ones first; not `own`."""
    rows = Cylinder.objects.filter(account__book=book).exclude(state="done with").select_related("account")
    return [one for one in alike(rows, "serial", serial) if own is None or one.pk != own.pk]


def _create_cylinder(book: Book, new: NewCylinder, draft: Draft) -> Cylinder:
    account = ledger.open_account(book, causes.CYLINDER, new.serial)
    facts = {name: value for name, value in vars(new).items() if name != "typed"}
    state = "suspect" if new.grade == "suspect" else "ready"
    cylinder = Cylinder.objects.create(account=account, state=state, typed=dict(new.typed), **facts)
    Tare.objects.create(
        cylinder=cylinder,
        tare_mg=new.tare_mg,
        u_mg=new.tare_u_mg,
        source=new.tare_source,
        since=draft.occurred_at,
    )
    return cylinder


def _first_content(draft: Draft, cylinder: Cylinder, first: First, gross: Gross | None) -> None:
    source = first.partner.account if first.partner else draft.account(causes.OPENING)
    if first.basis == "single":
        if gross is None:
            raise Refused("A mass by one weighing needs the gross reading.")
        mass_mg, u = weighing.single_net(draft, gross)
    else:
        mass_mg, u = first.mass_mg, uncertainty.U(first.u_mg / 1000, 0.0)
    if mass_mg <= 0:
        raise Refused(f"{cylinder} would hold nothing by this. Receive it as empty, or read the scale again.")
    draft.move(
        Line(
            first.cause,
            source,
            cylinder.account,
            cylinder.refrigerant,
            cylinder.grade,
            mass_mg,
            first.basis,
            *parts_mg(u),
            scale=gross.scale if gross and first.basis == "single" else None,
        )
    )
    if gross is not None and first.basis != "single":
        weighing.settle(draft, gross, Weighing.SINGLE)


def correct_tare(book: Book, act: Act, gross: Gross, *, source: str = "measured evacuated") -> Entry:
    """Give a cylinder, weighed empty and evacuated, its true tare; what the book held in it is posted apart."""

    def build(draft: Draft) -> None:
        cylinder = gross.cylinder
        content = draft.content(cylinder.account)
        known_mg = abs(gross.gross_mg - cylinder.tare_mg) + 2 * gross.scale.step_mg
        if content is not None and (cylinder.lacks_tare or content[2] > known_mg):
            raise Refused(f"The book has {show_mass(content[2])} in {cylinder}: empty and evacuate it first.")
        cylinder.tare_mg, cylinder.tare_source = gross.gross_mg, source
        cylinder.tare_u_mg = round(weighing.reading_u_g(gross) * 1000)
        cylinder.save(update_fields=["tare_mg", "tare_source", "tare_u_mg"])
        Tare.objects.create(
            cylinder=cylinder,
            tare_mg=cylinder.tare_mg,
            u_mg=cylinder.tare_u_mg,
            source=source,
            since=draft.occurred_at,
        )
        weighing.read(draft, gross, Weighing.SINGLE)
        if content is not None:
            code, grade, held_mg = content
            unexplained = draft.account(causes.UNEXPLAINED)
            draft.move(Line("tare-corrected", cylinder.account, unexplained, code, grade, held_mg, "single"))

    with transaction.atomic(durable=True):
        return ledger.write(book, act, build)


def change_cylinder(cylinder: Cylinder, **facts: Any) -> Cylinder:
    """Put right what a cylinder is and where it stands; nothing that is a mass. Its account's label follows its number.

    Raises Refused for a number that another cylinder on the shelf has, and for a purpose changed while it holds gas.
    """
    with transaction.atomic(durable=True):
        book = ledger.lock(cylinder.account.book)
        serial = facts.get("serial", cylinder.serial)
        _refuse_second_serial(book, serial, cylinder)
        purpose = (facts.get("refrigerant", cylinder.refrigerant), facts.get("grade", cylinder.grade))
        holds = Holding.objects.filter(account=cylinder.account).exclude(mass_mg=0).exists()
        if holds and purpose != (cylinder.refrigerant, cylinder.grade):
            raise Refused(f"{cylinder} holds gas: enter a change of grade, or what an identifier showed, instead.")
        for name, value in facts.items():
            setattr(cylinder, name, value)
        cylinder.save()
        Account.objects.filter(pk=cylinder.account_id).update(label=serial)
        return cylinder


def preview(book: Book, gross: Gross) -> Settled:
    """Return what a reading taken now would say of a cylinder; nothing is written."""
    return weighing.settle(Draft(book, timezone.now(), ledger.Balances()), gross, Weighing.CHECK)


# --- partners -------------------------------------------------------------------------------------------------


def add_partner(book: Book, **facts: Any) -> Partner:
    """Enter a supplier, reclaimer or other party outside, with an account of its own in the book."""
    with transaction.atomic(durable=True):
        ledger.lock(book)
        _refuse_second_partner(book, facts["name"], facts["kind"], None)
        account = ledger.open_account(book, causes.PARTNER, facts["name"])
        return Partner.objects.create(account=account, **facts)


def change_partner(partner: Partner, **facts: Any) -> Partner:
    """Put right what a partner is called and where it is; its account's label follows its name."""
    with transaction.atomic(durable=True):
        ledger.lock(partner.account.book)
        _refuse_second_partner(partner.account.book, facts["name"], facts["kind"], partner)
        for name, value in facts.items():
            setattr(partner, name, value)
        partner.save()
        Account.objects.filter(pk=partner.account_id).update(label=partner.name)
        return partner


def _refuse_second_partner(book: Book, name: str, kind: str, own: Partner | None) -> None:
    known = next((p for p in partners_like(book, name, own) if p.kind == kind and marks.same(p.name, name)), None)
    if known is not None:
        raise Refused(f"A {kind} called {known} is in the book already. Open it, or give this one another name.")


def partners_like(book: Book, name: str, own: Partner | None = None) -> list[Partner]:
    """Return the partners that may be meant by a name, the same ones first; not `own` nor one joined to another."""
    rows = Partner.objects.filter(account__book=book, account__joined_to=None).select_related("account")
    return [one for one in alike(rows, "name", name) if own is None or one.pk != own.pk]


def sister_partner(book: Book, sister: Book) -> Partner:
    """Return the partner by which a book knows a sister workshop; entered where it is not there yet."""
    known = Partner.objects.filter(account__book=book, sister=sister).select_related("account__book").first()
    if known is not None:
        return known
    return add_partner(book, name=sister.name, kind="sister workshop", sister=sister)


# --- the scale ------------------------------------------------------------------------------------------------


def weigh(book: Book, act: Act, gross: Gross, role: str = Weighing.CHECK, taken: Sequence[photos.Taken] = ()) -> Entry:
    """Write one reading; its difference to the book goes to or comes from *unexplained* in the same entry.

    With the role *before* the cylinder then stands open on the scale until its reading after. The photos `taken` are
    sealed with it or nothing is written.
    """

    def build(draft: Draft) -> None:
        weighing.settle(draft, gross, role)

    with transaction.atomic(durable=True):
        entry = ledger.write(book, act, build, kind=Entry.WEIGH)
        photos.add_taken(book, taken, line=entry)
        return entry


def nothing_moved(book: Book, act: Act, gross: Gross, taken: Sequence[photos.Taken] = ()) -> Entry:
    """Take a cylinder off the scale with a second reading between which nothing was meant to move."""
    return weigh(book, act, gross, Weighing.CHECK, taken)


def stock_take(book: Book, act: Act, readings: Sequence[Gross]) -> Entry:
    """Write the readings of one round of the floor as one entry, each with its difference to the book."""

    def build(draft: Draft) -> None:
        if not readings:
            raise Refused("No cylinder was weighed. Enter at least one reading.")
        if len({gross.cylinder.pk for gross in readings}) != len(readings):
            raise Refused("A cylinder stands twice in this stock-take. Keep one reading of each.")
        for gross in readings:
            weighing.settle(draft, gross, Weighing.CHECK)

    with transaction.atomic(durable=True):
        return ledger.write(book, act, build, kind=Entry.WEIGH)


def optional_before(draft: Draft, before: Gross | None) -> Settled | None:
    """Write the reading before an act, where the act brings it along."""
    return weighing.settle(draft, before, Weighing.BEFORE) if before is not None else None


# --- between cylinders ----------------------------------------------------------------------------------------


def transfer(
    book: Book,
    act: Act,
    *,
    source: Cylinder,
    target: Cylinder,
    before: Gross | None,
    after: Gross,
    jurisdiction: str = "",
    happened: bool = False,
) -> Entry:
    """Move gas from one cylinder into another by a pair of readings on either of them.

    A heel of another grade drawn into a recovery cylinder of the same refrigerant runs through *process* as recovered.
    """

    def build(draft: Draft) -> None:
        optional_before(draft, before)
        gained_mg, u = weighing.passed(draft, after)
        mass_mg = gained_mg if after.cylinder.pk == target.pk else -gained_mg
        if mass_mg <= 0:
            raise Refused("By these readings nothing went that way. Read the scale again, or swap the cylinders.")
        code, grade, _ = weighing.content_or_last(draft, source)
        refuse_filling(draft, target, code, mass_mg, jurisdiction, happened=happened)
        held = draft.content(target.account)
        target_grade = held[1] if held else _grade_poured(grade, target)
        parts = parts_mg(u)
        if held is None:
            become(target, code, target_grade)
        if target_grade == grade:
            draft.move(
                Line(
                    "transfer", source.account, target.account, code, grade, mass_mg, "pair", *parts, scale=after.scale
                )
            )
            return
        if target_grade not in ("recovered", "suspect") or grade == "suspect":
            raise Refused(
                f"{source} holds {grade} and {target} {target_grade}: a better grade is not made by pouring. "
                "Use a recovery cylinder, or one marked suspect."
            )
        process = draft.account(causes.PROCESS)
        draft.move(Line("regrade", source.account, process, code, grade, mass_mg, "rest", *parts, scale=after.scale))
        draft.move(
            Line("regrade", process, target.account, code, target_grade, mass_mg, "rest", *parts, scale=after.scale)
        )

    with transaction.atomic(durable=True):
        return ledger.write(book, act, build)


def _grade_poured(grade: str, target: Cylinder) -> str:
    """Return the grade of gas once it is in an empty cylinder: what stood in a recovery cylinder is never better."""
    return "recovered" if target.kind == Cylinder.RECOVERY and grade != "suspect" else grade


def refuse_filling(
    draft: Draft,
    target: Cylinder,
    code: str,
    mass_mg: int,
    jurisdiction: str,
    *,
    happened: bool,
    parts: Iterable[str] = (),
) -> None:
    """Refuse what may not be filled, unless it has happened already; `parts` are those of a mixture that comes in."""
    if happened:
        return
    day = draft.occurred_at.astimezone(ZoneInfo(draft.book.zone)).date()
    if (reason := filling.refusal(target.kind, target.requalify_by, day)) is not None:
        raise Refused(f"{target}: {reason}")
    if target.state in ("away", "done with"):
        raise Refused(f"{target} is {target.state}. Choose a cylinder that stands here.")
    held = draft.content(target.account)
    held_mg = held[2] if held else 0
    limit = filling_limit(target, held[0], jurisdiction) if held else filling_limit(target, code, jurisdiction, parts)
    if limit is not None and held_mg + mass_mg > limit.max_net_g * 1000:
        over_mg = held_mg + mass_mg - round(limit.max_net_g * 1000)
        raise Refused(
            f"{show_mass(held_mg + mass_mg)} is {show_mass(over_mg)} over what {target} may hold "
            f"({show_mass(round(limit.max_net_g * 1000))}, {limit.words}). Use another cylinder."
        )


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


def _through_process(
    book: Book,
    act: Act,
    cylinder: Cylinder,
    cause: str,
    *,
    code: str | None = None,
    grade: str | None = None,
    parts: Mapping[str, str] | None = None,
    instrument: str = "",
) -> Entry:
    def build(draft: Draft) -> None:
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

    with transaction.atomic(durable=True):
        return ledger.write(book, act, build)


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


# --- away and lost --------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class Dispatch:
    """Where a cylinder goes, why, and under which number."""

    partner: Partner
    cause: str  # sent-away, heel-returned, passed-on
    purpose: str
    number: str
    paper_number: str = ""


def send_away(book: Book, act: Act, gross: Gross, dispatch: Dispatch) -> Entry:
    """Weigh a cylinder and send it away with all it holds."""

    def build(draft: Draft) -> None:
        cylinder = gross.cylinder
        cylinder.refresh_from_db(fields=["state"])
        if cylinder.state in ("away", "done with"):
            raise Refused(f"{cylinder} is {cylinder.state} already.")
        _check_purpose(draft, cylinder, dispatch)
        weighing.settle(draft, gross, Weighing.SINGLE)
        content = draft.content(cylinder.account)
        if content is not None:
            u = weighing.single_u(gross)
            draft.move(
                Line(
                    dispatch.cause,
                    cylinder.account,
                    dispatch.partner.account,
                    *content,
                    "single",
                    *parts_mg(u),
                    scale=gross.scale,
                )
            )
        cylinder.state = "away"
        cylinder.save(update_fields=["state"])
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

    with transaction.atomic(durable=True):
        return ledger.write(book, act, build)


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


def come_back(book: Book, act: Act, gross: Gross, partner: Partner, *, cause: str = "came-back") -> Entry:
    """Take a cylinder back onto the shelf with what it holds by its weighing (came-back, returned-reclaimed)."""

    def build(draft: Draft) -> None:
        cylinder = gross.cylinder
        cylinder.refresh_from_db(fields=["state"])
        if cylinder.state != "away":
            raise Refused(f"{cylinder} is here: it cannot come back.")
        code, grade, _ = weighing.content_or_last(draft, cylinder)
        if cause == "returned-reclaimed":
            grade = "reclaimed"
        mass_mg, u = weighing.single_net(draft, gross)
        if mass_mg > 0:
            draft.move(
                Line(
                    cause,
                    partner.account,
                    cylinder.account,
                    code,
                    grade,
                    mass_mg,
                    "single",
                    *parts_mg(u),
                    scale=gross.scale,
                )
            )
        cylinder.state = "ready"
        cylinder.save(update_fields=["state"])
        become(cylinder, code, grade)

    with transaction.atomic(durable=True):
        return ledger.write(book, act, build)


def lose(book: Book, act: Act, cylinder: Cylinder, cause: str, *, before: Gross | None, after: Gross | None) -> Entry:
    """Enter a loss: by a pair of readings (purge, leaked-from-stock, was-oil), or all that the cylinder held."""
    destination = {"missing": causes.UNEXPLAINED, "was-oil": causes.OPENING}.get(cause, causes.AIR)

    def build(draft: Draft) -> None:
        target = draft.account(destination)
        if after is not None:
            optional_before(draft, before)
            content = weighing.content_or_last(draft, cylinder)
            gained_mg, u = weighing.passed(draft, after)
            if gained_mg >= 0:
                raise Refused("By these readings nothing left the cylinder. Read the scale again.")
            draft.move(
                Line(
                    cause,
                    cylinder.account,
                    target,
                    content[0],
                    content[1],
                    -gained_mg,
                    "pair",
                    *parts_mg(u),
                    scale=after.scale,
                )
            )
            return
        content_now = draft.content(cylinder.account)
        if content_now is None:
            raise Refused(f"The book has nothing in {cylinder}.")
        draft.move(Line(cause, cylinder.account, target, *content_now, "rest"))
        if cause in ("missing", "scrapped-with-rest"):
            cylinder.state = "done with"
            cylinder.save(update_fields=["state"])

    with transaction.atomic(durable=True):
        return ledger.write(book, act, build)


def turn_up(book: Book, act: Act, gross: Gross) -> Entry:
    """Take a cylinder that the book thought gone back onto the shelf, by its weighing."""

    def build(draft: Draft) -> None:
        cylinder = gross.cylinder
        if draft.content(cylinder.account) is not None:
            raise Refused(f"The book has gas in {cylinder}: weigh it instead.")
        code, grade, _ = weighing.content_or_last(draft, cylinder)
        mass_mg, u = weighing.single_net(draft, gross)
        if mass_mg > 0:
            unexplained = draft.account(causes.UNEXPLAINED)
            draft.move(
                Line(
                    "turned-up",
                    unexplained,
                    cylinder.account,
                    code,
                    grade,
                    mass_mg,
                    "single",
                    *parts_mg(u),
                    scale=gross.scale,
                )
            )
        cylinder.state = "ready"
        cylinder.save(update_fields=["state"])

    with transaction.atomic(durable=True):
        return ledger.write(book, act, build)


def discard(cylinder: Cylinder) -> None:
    """Take an empty cylinder off the shelf for good."""
    if Holding.objects.filter(account=cylinder.account).exclude(mass_mg=0).exists():
        raise Refused(f"{cylinder} still holds gas by the book. Enter where it went first.")
    cylinder.state = "done with"
    cylinder.save(update_fields=["state"])


# --- sister workshops -----------------------------------------------------------------------------------------


def move_to_sister(act: Act, gross: Gross, there: Partner, here: Partner) -> tuple[Entry, Entry, Cylinder]:
    """Move a cylinder with its content out of one book and into another, in one transaction.

    `there` is the sister as a partner of this book, `here` this workshop as a partner of the sister's book. Both books
    are locked in order of id; the second entry holds the first one's digest.
    """
    cylinder, sister = gross.cylinder, here.account.book

    def leave(draft: Draft) -> None:
        weighing.settle(draft, gross, Weighing.SINGLE)
        content = draft.content(cylinder.account)
        if content is None:
            raise Refused(f"{cylinder} holds nothing by the book.")
        draft.move(
            Line(
                "moved-to-sister",
                cylinder.account,
                there.account,
                *content,
                "single",
                *parts_mg(weighing.single_u(gross)),
                scale=gross.scale,
            )
        )
        cylinder.state = "away"
        cylinder.save(update_fields=["state"])

    def arrive(draft: Draft) -> None:
        moved = out.movements.get(cause="moved-to-sister")
        twin = _twin(draft, cylinder)
        draft.context = f"cylinder:{twin.account.number}"
        draft.move(
            Line(
                "came-from-sister",
                here.account,
                twin.account,
                moved.refrigerant,
                moved.grade,
                int(moved.mass_mg),
                "paper",
                u_random_mg=round(moved.u_mg),
            )
        )

    with transaction.atomic(durable=True):
        locked = {book.pk: ledger.lock(book) for book in sorted((cylinder.account.book, sister), key=lambda b: b.pk)}
        out = ledger.write_locked(locked[cylinder.account.book.pk], act, leave)
        into = ledger.write_locked(locked[sister.pk], act, arrive, seals=out.digest)
        number = int(into.context.removeprefix("cylinder:"))
        return out, into, Cylinder.objects.get(account__book=sister, account__number=number)


def _twin(draft: Draft, cylinder: Cylinder) -> Cylinder:
    """Return the sister's record of a cylinder: the one it had before, or a new one with the same facts."""
    away = Cylinder.objects.filter(account__book=draft.book, state="away")
    known = next(iter(exactly(away, "serial", cylinder.serial)), None)
    if known is not None:
        known.state, known.tare_mg, known.tare_u_mg = "ready", cylinder.tare_mg, cylinder.tare_u_mg
        known.refrigerant, known.grade = cylinder.refrigerant, cylinder.grade
        known.save()
        return known
    names = [name for name in NewCylinder.__dataclass_fields__ if hasattr(cylinder, name)]
    return _create_cylinder(draft.book, NewCylinder(**{name: getattr(cylinder, name) for name in names}), draft)


# --- differences, mistakes, the year --------------------------------------------------------------------------


def explain(
    book: Book, act: Act, difference: Movement, *, cause: str, mass_mg: int, vehicle: Account | None = None
) -> Entry:
    """Account for a weighing difference: to air (loss-explained), to or from a vehicle (late-charge, late-recovery)."""

    def build(draft: Draft) -> None:
        open_mg = differences.open_mg(difference)
        missing = cause != "late-recovery"
        if (open_mg > 0) != missing or abs(open_mg) < mass_mg or mass_mg <= 0:
            raise Refused(
                f"{show_mass(mass_mg)} cannot be explained: {show_mass(abs(open_mg))} of this difference is open."
            )
        unexplained = draft.account(causes.UNEXPLAINED)
        if cause != "loss-explained" and vehicle is None:
            raise Refused("Name the vehicle.")
        code, grade = difference.refrigerant, difference.grade
        if cause == "late-recovery":
            assert vehicle is not None  # noqa: S101 - for the type; refused above
            found_in_vehicle(draft, vehicle, code, grade, mass_mg, "rest")
            draft.move(Line(cause, vehicle, unexplained, code, grade, mass_mg, "rest", explains=difference))
            return
        target = vehicle if cause == "late-charge" and vehicle is not None else draft.account(causes.AIR)
        draft.move(Line(cause, unexplained, target, code, grade, mass_mg, "rest", explains=difference))

    with transaction.atomic(durable=True):
        return ledger.write(book, act, build)


def found_in_vehicle(
    draft: Draft, vehicle: Account, code: str, grade: str, mass_mg: int, basis: str, u: uncertainty.U | None = None
) -> int:
    """Post what comes out of a vehicle beyond what the book put in; return that mass in milligrams."""
    held_mg = draft.balances.together(vehicle).get((code, ""), 0)
    found_mg = mass_mg - max(held_mg, 0)
    if found_mg <= 0:
        return 0
    parts = parts_mg(u) if u else (0, 0)
    draft.move(Line("found-in-vehicle", draft.account(causes.OPENING), vehicle, code, grade, found_mg, basis, *parts))
    return found_mg


UNDONE: list[Callable[[Entry, Entry | None], None]] = []
"""What floors above do in the same transaction when a line was reversed: the line, and the one written anew for it."""


def _undone(entry: Entry, again: Entry | None) -> None:
    for follow in UNDONE:
        follow(entry, again)


def reverse(book: Book, act: Act, entry: Entry) -> Entry:
    """Answer a mistake: one entry undone, once and whole; both lines stay.

    Its cylinders are again what they were before it: on the shelf or away, for their gas, with their empty mass. Later
    weighings of them still hold.
    """
    if entry.movements.filter(cause__in=("moved-to-sister", "came-from-sister")).exists():
        raise Refused("A move between workshops stands in two books: move the cylinder back instead.")
    with transaction.atomic(durable=True):
        locked = ledger.lock(book)
        if Entry.objects.filter(book=locked, request_key=act.key).exists():
            return ledger.reverse_locked(locked, entry, act)  # pressed before; its cylinders were seen to then
        reversal, _ = _replace(locked, act, entry, {}, None)
        _put_back(entry)
        _undone(entry, None)
        return reversal


WROTE_OFF = ("missing", "scrapped-with-rest")
SENT = ("sent-away", "heel-returned", "passed-on")
CAME = ("came-back", "returned-reclaimed", "turned-up")


def _put_back(entry: Entry) -> None:
    """Let the cylinders of a reversed entry be what they were before it."""
    for tare in Tare.objects.filter(since=entry.occurred_at, cylinder__account__weighings__entry=entry).distinct():
        _tare_before(tare)
    moved = [account.pk for account in _effects(entry)]
    balances = ledger.Balances()
    theirs = Q(account__in=moved) | Q(consignments__entry=entry)
    for cylinder in Cylinder.objects.filter(theirs).select_related("account").distinct():
        content = next(iter(balances.of(cylinder.account)), None)
        state = _state_before(entry, cylinder, empty=content is None)
        if state != cylinder.state:
            cylinder.state = state
            cylinder.save(update_fields=["state"])
        if content is not None and content != (cylinder.refrigerant, cylinder.grade):
            become(cylinder, *content)


def _state_before(entry: Entry, cylinder: Cylinder, *, empty: bool) -> str:
    """Return the state of a cylinder without an entry that took it off the shelf or put it there."""
    own = entry.movements.filter(Q(source=cylinder.account) | Q(target=cylinder.account))
    gone = cylinder.state in ("away", "done with")
    if gone and (own.filter(cause__in=WROTE_OFF).exists() or cylinder.consignments.filter(entry=entry).exists()):
        return "suspect" if cylinder.grade == "suspect" else "ready"
    if gone or not empty or not own.filter(cause__in=CAME).exists():
        return str(cylinder.state)
    last = Movement.objects.standing().filter(source=cylinder.account, cause__in=(*WROTE_OFF, *SENT))
    left = last.order_by("-id").first()
    if left is None:
        return str(cylinder.state)
    return "done with" if left.cause in WROTE_OFF else "away"


def _tare_before(tare: Tare) -> None:
    """Give a cylinder the empty mass that it had before `tare`, unless that is its first or was corrected again."""
    cylinder = tare.cylinder
    before = cylinder.tares.filter(pk__lt=tare.pk).order_by("-pk").first()
    if before is None or cylinder.tares.filter(pk__gt=tare.pk).exists():
        return
    if tare.source == Cylinder.RECKONED and ledger.last_weighing(cylinder.account) is not None:
        return  # a later reading rests on it
    cylinder.tare_mg, cylinder.tare_u_mg, cylinder.tare_source = before.tare_mg, before.u_mg, before.source
    cylinder.save(update_fields=["tare_mg", "tare_u_mg", "tare_source"])
    Tare.objects.create(
        cylinder=cylinder, tare_mg=before.tare_mg, u_mg=before.u_mg, source=before.source, since=timezone.now()
    )


ANEW = "anew"  # what `Act.derived` makes the key of a line from that takes another's place


def correct_after(book: Book, act: Act, entry: Entry, *, gross_mg: int, typed: str) -> tuple[Entry, Entry]:
    """Put an old reading after a charge or a recovery right; returns the reversal and the line written anew.

    `typed` is the corrected reading as typed. Later weighings of the cylinder still hold: the rest is balanced to
    *unexplained* against the difference that the slip had caused.
    """
    with transaction.atomic(durable=True):
        locked = ledger.lock(book)
        old = entry.weighings.select_related("account", "scale").filter(role=Weighing.AFTER).last()
        if old is None:
            raise Refused(f"Line {entry.seq} has no reading after; reverse it instead.")
        shift_mg = gross_mg - int(old.gross_mg)
        if shift_mg == 0:
            raise Refused(f"Line {entry.seq} has this reading already.")
        act = replace(act, occurred_at=entry.occurred_at)  # it counts for then, and is listed as late
        lines = _lines_anew(entry, old, shift_mg)
        effect = _more_by(lines, entry)

        def build(draft: Draft) -> None:
            for line in lines:
                draft.move(line)
            draft.context = entry.context
            if not _stands_later(old.account, entry):
                draft.read(
                    ledger.Reading(
                        old.account, old.role, gross_mg, int(old.tare_mg), int(old.u_mg), old.scale, typed[:60]
                    )
                )

        reversal, again = _replace(locked, act, entry, effect, build)
        assert again is not None  # noqa: S101 - for the type: a line written anew is never empty
        _undone(entry, again)
        return reversal, again


def written_anew(reversal: Entry) -> Entry:
    """Return the line that `correct_after` wrote anew with a reversal; the reversal itself where there is none."""
    key = uuid5(reversal.request_key, ANEW)
    return Entry.objects.filter(book=reversal.book, request_key=key).first() or reversal


def _replace(
    book: Book, act: Act, entry: Entry, new_effect: Mapping[int, int], anew: "ledger.Build | None"
) -> tuple[Entry, Entry | None]:
    """Reverse an entry and write what takes its place, so that a cylinder weighed since holds what it held.

    `new_effect` is, by account, how much more the new lines leave in it than the old ones did. Where the entry had
    filled the cylinder, the new line is written first: the reversal needs the mass to be there.
    """
    effects = _effects(entry)
    balances = {
        account: effect - (effect + new_effect.get(account.pk, 0) if anew else 0)
        for account, effect in effects.items()
        if _stands_later(account, entry)
    }
    balances = {account: mass for account, mass in balances.items() if mass}

    def build(draft: Draft) -> None:
        if anew is not None:
            anew(draft)
        for account, mass_mg in balances.items():
            _balance(draft, account, mass_mg, entry)

    def follow() -> Entry | None:
        return ledger.write_locked(book, act.derived(ANEW), build) if anew or balances else None

    def reverse_first() -> tuple[Entry, Entry | None]:
        return ledger.reverse_locked(book, entry, act), follow()

    def follow_first() -> tuple[Entry, Entry | None]:
        again = follow()
        return ledger.reverse_locked(book, entry, act), again

    first, second = reverse_first, follow_first
    if any(effect > 0 for effect in effects.values()):
        first, second = second, first
    try:
        with transaction.atomic():
            return first()
    except ledger.NotEnoughHeld:
        return second()


def _effects(entry: Entry) -> dict[Account, int]:
    """Return by how much an entry changed what each cylinder holds, in milligrams."""
    effects: dict[Account, int] = {}
    for movement in entry.movements.select_related("source", "target"):
        _add_effect(effects, movement)
    return effects


def _more_by(lines: Sequence[Line], entry: Entry) -> dict[int, int]:
    """Return by how much more `lines` would leave in each cylinder than an entry has left, in milligrams."""
    effects: dict[Account, int] = {}
    for line in lines:
        _add_effect(effects, line)
    return {account.pk: effects.get(account, 0) - old for account, old in _effects(entry).items()}


def _add_effect(effects: dict[Account, int], moved: Movement | Line) -> None:
    for account, sign in ((moved.source, -1), (moved.target, 1)):
        if account.kind == causes.CYLINDER:
            effects[account] = effects.get(account, 0) + sign * int(moved.mass_mg)


def _stands_later(account: Account, entry: Entry) -> bool:
    last = ledger.last_weighing(account)
    return last is not None and last.entry.seq > entry.seq


def _balance(draft: Draft, account: Account, mass_mg: int, entry: Entry) -> None:
    """Post what keeps a cylinder at its later weighing; positive is put back into it from *unexplained*."""
    moved = entry.movements.filter(Q(source=account) | Q(target=account)).order_by("-line").first()
    assert moved is not None  # noqa: S101 - for the type: the entry changed what the account holds
    unexplained = draft.account(causes.UNEXPLAINED)
    draft.move(
        Line(
            "balance-after-correction",
            unexplained if mass_mg > 0 else account,
            account if mass_mg > 0 else unexplained,
            moved.refrigerant,
            moved.grade,
            abs(mass_mg),
            "computed",
            explains=next_difference(account, entry),
        )
    )


def _lines_anew(entry: Entry, old: Weighing, shift_mg: int) -> list[Line]:
    """Return the lines of an entry with what a corrected reading makes of the mass that it measured."""
    movements = list(entry.movements.select_related("source", "target", "scale").order_by("line"))
    gave = any(one.source_id == old.account_id for one in movements if one.cause not in APART)
    lines = []
    for movement in movements:
        mass_mg = int(movement.mass_mg)
        if movement.cause not in APART:
            mass_mg += -shift_mg if gave else shift_mg
        if mass_mg <= 0 and movement.cause == "found-in-vehicle":
            continue  # what came out was in the vehicle by the book already
        if mass_mg <= 0:
            raise Refused("By this reading nothing would have moved. Reverse the line instead.")
        facts = ("cause", "source", "target", "refrigerant", "grade", "basis", "u_random_mg", "u_span_mg", "scale")
        lines.append(
            Line(
                mass_mg=mass_mg,
                can_tell_mg=movement.can_tell_mg,
                **{name: getattr(movement, name) for name in facts},
            )
        )
    return _with_found(lines, shift_mg)


APART = ("weighing-difference", "re-identified")  # they stand beside what the reading after has measured


def _with_found(lines: list[Line], shift_mg: int) -> list[Line]:
    """Add what must have been in the vehicle beyond the book, where a recovery was of more than it held."""
    recovered = next((line for line in lines if line.cause == "recovery"), None)
    if recovered is None or shift_mg <= 0 or any(line.cause == "found-in-vehicle" for line in lines):
        return lines
    content = (recovered.refrigerant, "")
    found_mg = shift_mg - max(ledger.Balances().of(recovered.source).get(content, 0), 0)
    if found_mg <= 0:
        return lines
    opening = Account.objects.get(book=recovered.source.book_id, kind=causes.OPENING)
    found = replace(
        recovered, cause="found-in-vehicle", source=opening, target=recovered.source, mass_mg=found_mg, scale=None
    )
    return [found, *lines]


def next_difference(account: Account, entry: Entry) -> Movement | None:
    """Return the first weighing difference of a cylinder after an entry: the one that a slip in it went into."""
    return (
        Movement.objects.standing()
        .filter(cause="weighing-difference", entry__seq__gt=entry.seq, book=entry.book)
        .filter(Q(source=account) | Q(target=account))
        .order_by("entry__seq")
        .first()
    )


def close_through(book: Book, act: Act, day: date) -> Entry:
    """Close the book through a day: nothing counts for it any more; later corrections count on the day of writing."""

    def build(draft: Draft) -> None:
        today = timezone.now().astimezone(ZoneInfo(draft.book.zone)).date()
        if day >= today:
            raise Refused(f"{day} is not over yet: a book is closed through a day that has passed.")
        if draft.book.closed_through is not None and day <= draft.book.closed_through:
            raise Refused(f"The book is closed through {draft.book.closed_through} already.")
        draft.context = f"{ledger.CLOSED}{day.isoformat()}"  # so that the chain holds the day
        draft.then(lambda entry: _set_closed(draft.book, day))

    with transaction.atomic(durable=True):
        return ledger.write(book, act, build, kind=Entry.CLOSE)


def _set_closed(book: Book, day: date) -> None:
    book.closed_through = day
    book.save(update_fields=["closed_through"])
