"""Who did what in a visit and who answered for it, with what each held on that day."""

from collections.abc import Sequence
from datetime import date

from compliance.papers.ofvisit import OfVisit
from compliance.papers.paper import Table
from shop.models import Certification, Step, User
from shop.people.certificates import held_on
from shop.visits.gas import living
from shop.visits.kinds import BY_NAME

HANDS_ON = (
    "recovery",
    "remainder settled",
    "circuit opened",
    "part in",
    "flush",
    "high voltage isolated",
    "pressure hold",
    "leak search",
    "repair",
    "pulling vacuum",
    "vacuum hold",
    "charge",
    "after-search",
    "conversion done",
)


def people_table(one: OfVisit, kinds: Sequence[str] = HANDS_ON) -> Table:
    """Return who did what and who answered for it, with what each held on that day."""
    deeds: dict[tuple[str, str, str], list[str]] = {}
    for step, did in _deeds(one, kinds):
        days, words = one.day(step.occurred_at), BY_NAME[step.kind].words
        for person, part in did:
            row = deeds.setdefault((str(person), part, certificates_on(person, days)), [])
            row.append(f"{words}, {days.isoformat()}")
    rows = tuple((name, part, _by_day(words), held) for (name, part, held), words in deeds.items())
    return Table("Who did it, who answers for it", ("Person", "Part", "Of", "Certificate on that day"), rows)


def _deeds(one: OfVisit, kinds: Sequence[str]) -> list[tuple[Step, tuple[tuple[User, str], ...]]]:
    found: list[tuple[Step, tuple[tuple[User, str], ...]]] = []
    standing = [step for kind in kinds for step in living(one.visit, kind)]
    for step in sorted(standing, key=lambda each: (each.occurred_at, each.pk)):
        if step.answers is None or step.answers == step.doer:
            found.append((step, ((step.doer, "did it and answers for it"),)))
        else:
            found.append((step, ((step.doer, "did it"), (step.answers, "answers for it"))))
    return found


def _by_day(words: Sequence[str]) -> str:
    """Return "recovery, charge (2025-03-03)", each thing once."""
    days: dict[str, list[str]] = {}
    for text in dict.fromkeys(words):
        what, _, when = text.rpartition(", ")
        days.setdefault(when, []).append(what)
    return "; ".join(f"{', '.join(what)} ({when})" for when, what in days.items())


def certificates_on(person: User, day: date) -> str:
    """Return the certificates that a person held on a day: scheme and number; what is not known is said."""
    rows = list(Certification.objects.filter(user=person).order_by("pk"))
    held = [one for one in rows if held_on(one, day)]
    if held:
        return "; ".join(f"{one.scheme}, no. {one.number}" for one in held)
    endless = [one for one in rows if one.expires_on is None and (one.issued_on is None or one.issued_on <= day)]
    if endless:
        return "; ".join(f"{one.scheme}, no. {one.number}, its end not entered" for one in endless)
    return "none on that day"
