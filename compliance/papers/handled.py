"""Who handled gas in the days before a day, and whether somebody who held a certificate did it or answered for it."""

from collections import Counter, defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date, datetime, time, timedelta

from django.db.models import Prefetch, Q

from compliance.papers.wording import Wording
from compliance.rules.seen import HANDS_ON
from inventory.output import days
from inventory.output.days import NOT_ENTERED
from shop.models import Certification, Membership, Step, User, Workshop
from shop.people.certificates import held_on

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
        return f"since {days.day(self.member.enrolled_on)}" if self.member.enrolled_on else f"yes, since {NOT_ENTERED}"


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
        Listed(person, roles.get(person.pk), found, handled.get(person.pk, Handled())) for person, found in held.items()
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
