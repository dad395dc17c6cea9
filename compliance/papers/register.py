"""The certificate register: who was there on a day, which certificates they held, who handled gas, with what."""

from collections import Counter, defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date, datetime, time, timedelta
from typing import Any

from django.db.models import Prefetch, Q

from compliance.papers.paper import REGISTER, Block, NothingToIssue, Paper, Table, Words
from compliance.papers.wording import Wording, counted, entered, issuer_of, wording_of
from compliance.rules.seen import HANDS_ON
from compliance.statement.period import day_in
from inventory.models import Cylinder, Gauge, Scale
from inventory.output.days import NOT_ENTERED
from inventory.shelf.queries import scales_of
from shop.models import Certification, Membership, Step, User, Workshop
from shop.people.certificates import held_on

NEVER_ENTERED, NOT_YET = "never entered", "not issued yet"
KEPT_ON_SITE = (
    "Proof that whoever runs the equipment is certified is kept on the premises: 40 CFR 82.42(b), where United States "
    "rules apply (as restated in an industry summary of section 609 of 2019)."
)
LOOK_BACK = timedelta(days=90)


@dataclass(frozen=True)
class Handled:
    """What one person did with gas in the days looked at, counted in acts."""

    acts: int = 0
    certified: int = 0  # on days on which the person held a certificate
    answered: int = 0  # without one, but somebody who held one answered for it
    lines: tuple[int, ...] = ()  # of the book, of acts that neither covers

    @property
    def uncovered(self) -> int:
        """Acts on days on which neither the person nor whoever answered for it held a certificate."""
        return self.acts - self.certified - self.answered


@dataclass(frozen=True)
class Listed:
    """A person of the register."""

    user: User
    member: Membership | None
    certificates: tuple[Certification, ...]
    wording: Wording
    handled: Handled = field(default_factory=Handled)

    @property
    def role(self) -> str:
        """The role now; somebody who left is said to have left."""
        if self.member is None:
            return NOT_ENTERED
        return self.member.role if self.member.active else f"{self.member.role}, no longer here"

    @property
    def trainee(self) -> str:
        """Since when a trainee."""
        if self.member is None or not self.member.is_trainee:
            return "no"
        enrolled = self.member.enrolled_on
        return f"since {self.wording.on(enrolled)}" if enrolled else f"yes, since {NOT_ENTERED}"


def certificate_register(workshop: Workshop, about: str, *, today: date) -> Paper:
    """Return the register of the day that ``people:YYYY-MM-DD`` names; a day to come has none.

    Its number of queries does not grow with people, certificates or work.
    """
    day, wording = _day(about, today), wording_of(workshop)
    listed = listed_on(workshop, day, wording)
    if not listed:
        raise NothingToIssue("Nobody is entered in this workshop.")
    lacking = [one for one in listed if one.handled.uncovered]
    blocks: tuple[Block | None, ...] = (
        _what_it_is(day, wording),
        _people(listed),
        _certificates(listed, day, wording),
        _lacking(lacking, day),
        _handled(listed, day, wording),
        _tanks(workshop, wording),
        _instruments(workshop, day, wording),
    )
    return Paper(
        kind=REGISTER,
        title=f"Certificate register of {wording.on(day)}",
        about=about,
        issuer=issuer_of(workshop),
        blocks=tuple(filter(None, blocks)),
        lines=tuple(sorted({line for one in lacking for line in one.handled.lines})),
        bases=(
            "held on a day: as far as the dates that were entered show",
            f"handled gas: {', '.join(HANDS_ON)}; steps that were reversed or entered anew are not counted",
        ),
        sources=(KEPT_ON_SITE,),
        figures={
            "day": day.isoformat(),
            "since": (day - LOOK_BACK).isoformat(),
            "people": [_person_figures(one, day) for one in listed],
            "acts_without_certificate": sum(one.handled.uncovered for one in listed),
        },
    )


def _day(about: str, today: date) -> date:
    kind, _, text = about.partition(":")
    day = day_in(text)
    if kind != "people" or day is None:
        raise NothingToIssue(f"{about} names no day.")
    if day > today:
        raise NothingToIssue(f"{text} is still to come: a register is of a day that was.")
    return day


def _state(one: Certification, day: date, wording: Wording) -> str:
    """Return how a certificate stood on a day: good until, never expires, ran out on, not issued yet."""
    if one.issued_on is not None and one.issued_on > day:
        return NOT_YET
    if one.never_expires:
        return "never expires"
    if one.expires_on is None:
        return f"its end was {NEVER_ENTERED}"
    return _check(one.expires_on, day, wording)


def _what_it_is(day: date, wording: Wording) -> Words:
    return Words(
        "",
        (
            f"Who is a member of the workshop and which certificates they held on {wording.on(day)}, as entered in the "
            "book. When somebody came or left is not kept: one who left since is listed where work of the "
            f"{LOOK_BACK.days} days before stands under the name. The certificates themselves are what counts; this "
            "list says where to look for them.",
        ),
    )


def _people(listed: Sequence[Listed]) -> Table:
    rows = tuple((str(one.user), one.user.handle, one.role, one.trainee) for one in listed)
    return Table("People", ("Name", "Name in the book", "Role", "Trainee"), rows)


def _certificates(listed: Sequence[Listed], day: date, wording: Wording) -> Table:
    rows: list[tuple[str, ...]] = []
    for one in listed:
        for each in one.certificates:
            scheme = f"{each.scheme}, {each.scope}" if each.scope else each.scheme
            issued = wording.on(each.issued_on)
            rows.append((str(one.user), scheme, each.number, entered(each.issuer), issued, _state(each, day, wording)))
        if not one.certificates:
            rows.append((str(one.user), NEVER_ENTERED, *[NOT_ENTERED] * 3, "none held"))
    heads = ("Name", "Certificate", "Number", "Issued by", "Issued on", f"On {wording.on(day)}")
    return Table("Certificates", heads, tuple(rows), (4,))


def _lacking(lacking: Sequence[Listed], day: date) -> Words:
    title = f"Gas handled without a certificate in the {LOOK_BACK.days} days before"
    if not lacking:
        return Words(title, ("None: each act was done, or answered for, by somebody who held a certificate that day.",))
    said = [
        f"{one.user}: {counted(one.handled.uncovered, 'act')} of {one.handled.acts} with no certificate held on the "
        "day, by the person or by whoever answered for it."
        for one in lacking
    ]
    return Words(title, tuple(said), strong=True)


def _handled(listed: Sequence[Listed], day: date, wording: Wording) -> Table:
    rows = tuple(
        (str(one.user), *map(str, (done.acts, done.certified, done.answered, done.uncovered)))
        for one in listed
        if (done := one.handled).acts
    ) or (("nobody", "0", "0", "0", "0"),)
    heads = ("Who handled gas", "Acts", "Certificate held", "Answered for by one who held one", "Neither")
    since = wording.on(day - LOOK_BACK)
    return Table(f"Acts with gas from {since} to {wording.on(day)}", heads, rows, (1, 2, 3, 4))


def _tanks(workshop: Workshop, wording: Wording) -> Table | None:
    tanks = Cylinder.objects.filter(account__book=workshop.book, kind=Cylinder.TANK).exclude(state="done with")
    rows = tuple(
        (
            one.serial,
            one.refrigerant,
            "yes" if one.recycles else "no",
            wording.mass_entered(one.machine_limit_mg),
            one.state,
        )
        for one in tanks.order_by("serial", "pk")
    )
    heads = ("Machine’s tank", "Refrigerant", "Recorded as recycling", "Its own limit of error", "State")
    return Table("Machines", heads, rows) if rows else None


def _instruments(workshop: Workshop, day: date, wording: Wording) -> Table | None:
    """Return every scale and gauge in use with the end of its check."""
    gauges = Gauge.objects.filter(book=workshop.book, retired=False).order_by("kind", "name")
    found: list[Scale | Gauge] = [*scales_of(workshop.book), *gauges]
    rows = tuple(
        (getattr(one, "kind", "scale"), one.name, entered(one.serial), _check(one.calibrated_until, day, wording))
        for one in found
    )
    heads = ("What", "Name", "Serial number", f"Check, on {wording.on(day)}")
    return Table("Scales and gauges", heads, rows) if rows else None


def _check(until: date | None, day: date, wording: Wording) -> str:
    """Return how a check, or a certificate that runs out, stood on a day."""
    if until is None:
        return NEVER_ENTERED
    return f"{'good until' if until >= day else 'ran out on'} {wording.on(until)}"


def _person_figures(one: Listed, day: date) -> dict[str, Any]:
    return {
        "handle": one.user.handle,
        "certificates": len(one.certificates),
        "held": held_any(one.certificates, day),
        "trainee": bool(one.member and one.member.is_trainee),
        "acts": one.handled.acts,
        "acts_certified": one.handled.certified,
        "acts_answered_for": one.handled.answered,
        "acts_without_certificate": one.handled.uncovered,
    }


def listed_on(workshop: Workshop, day: date, wording: Wording) -> list[Listed]:
    """Return who is a member now, and who is not but handled gas in the days looked at, by name."""
    steps = _steps(workshop, day, wording)
    hands = {step.doer_id for step in steps} | {step.answers_id for step in steps if step.answers_id}
    members = Membership.objects.filter(workshop=workshop).filter(Q(active=True) | Q(user__in=hands))
    roles = {one.user_id: one for one in members}
    certificates = Certification.objects.order_by("scheme", "issued_on", "pk")
    people = User.objects.filter(pk__in=hands | roles.keys())
    held = {
        person: tuple(person.certifications.all())
        for person in people.prefetch_related(Prefetch("certifications", certificates))
    }
    handled = _counted(steps, {person.pk: found for person, found in held.items()}, wording)
    listed = [
        Listed(person, roles.get(person.pk), found, wording, handled.get(person.pk, Handled()))
        for person, found in held.items()
    ]
    return sorted(listed, key=lambda one: (str(one.user).casefold(), one.user.pk))


def _steps(workshop: Workshop, day: date, wording: Wording) -> list[Step]:
    """Return the steps of the days looked at by which gas was handled, the day of the register the last of them."""
    start, end = (
        datetime.combine(each, time.min, tzinfo=wording.zone) for each in (day - LOOK_BACK, day + timedelta(days=1))
    )
    rows = Step.objects.standing().filter(visit__workshop=workshop, kind__in=HANDS_ON)
    rows = rows.filter(occurred_at__gte=start, occurred_at__lt=end)
    return list(rows.select_related("entry").order_by("occurred_at", "pk"))


def _counted(
    steps: Iterable[Step], certificates: Mapping[int, Sequence[Certification]], wording: Wording
) -> dict[int, Handled]:
    """Return what each person did, by the person's key; whether it was covered is asked of the day of each act."""
    acts, certified, answered = Counter[int](), Counter[int](), Counter[int]()
    lines: defaultdict[int, list[int]] = defaultdict(list)
    for step in steps:
        on = step.occurred_at.astimezone(wording.zone).date()
        acts[step.doer_id] += 1
        if held_any(certificates.get(step.doer_id, ()), on):
            certified[step.doer_id] += 1
        elif step.answers_id and held_any(certificates.get(step.answers_id, ()), on):
            answered[step.doer_id] += 1
        elif step.entry:
            lines[step.doer_id].append(step.entry.seq)
    return {doer: Handled(n, certified[doer], answered[doer], tuple(lines[doer])) for doer, n in acts.items()}


def held_any(certificates: Iterable[Certification], day: date) -> bool:
    """Whether one of these certificates held on a day."""
    return any(held_on(one, day) for one in certificates)
