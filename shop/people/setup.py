"""The first minutes of an installation: the code from the console, the owner, the workshop, what it works with.

The workshop stands from its first step on; what became of each further step is kept with it, so that the set-up goes on
where it was left, on another day and another machine. What was put off is owed until it is done.

SetUpError      a workshop that cannot be opened; the text is a sentence for the person
"""

import hmac
import secrets
from typing import Any
from zoneinfo import available_timezones

from django.conf import settings
from django.db import transaction
from django.utils.text import slugify

from inventory.book import ledger
from inventory.measure.atmosphere import OutsideAtmosphere, air_at
from inventory.measure.codes import ALPHABET
from inventory.models import Book, Cylinder
from inventory.models.access import OWNER
from inventory.output.stock import A4, LETTER
from shop.models import Certification, Membership, User, Workshop

CODE_LENGTH = 8
STEPS = ("owner", "workshop", "rules", "scales", "gauges", "phone", "cylinders", "machine", "certificate", "people")
NEEDED = ("rules", "scales", "gauges", "phone", "cylinders")
"""Signing in leads back to these while they are neither done nor put off."""
DONE, LATER, OPEN = "done", "later", "open"
METRIC = {
    "mass_unit": "kg",
    "pressure_unit": "bar",
    "vacuum_unit": "mbar",
    "temperature_unit": "C",
    "volume_unit": "L",
    "day_order": "ymd",
    "paper": A4,
}
CUSTOMARY = {
    "mass_unit": "lb oz",
    "pressure_unit": "psi",
    "vacuum_unit": "micron",
    "temperature_unit": "F",
    "volume_unit": "fl oz",
    "day_order": "mdy",
}
PROPOSED = {
    "none": {"gwp_basis": "AR6", **METRIC},
    "us": {"gwp_basis": "AR6", **CUSTOMARY, "paper": LETTER},
    "eu": {"gwp_basis": "EU", **METRIC},
    "in": {"gwp_basis": "AR6", **METRIC, "pressure_unit": "psi", "vacuum_unit": "micron"},
}
"""What a workshop under these rules most likely reads: common practice, no source. It is proposed, never assumed.

The basis is one that has a figure for what cars hold, R-1234yf too: European law prints one, the law of the United
States as far as it was read does not, and of the reports that have one the sixth is the newest.
"""


class SetUpError(Exception):
    """What was given cannot become a workshop."""


def is_first_run() -> bool:
    """Whether nobody can sign in yet: the set-up pages exist only then."""
    return not User.objects.exists()


def setup_code() -> str:
    """Return the code that the console shows and the first set-up page asks for, such as ``7K3M-Q2XA``.

    It follows from the secret key, so every worker process knows the same one and nothing is stored.
    """
    digest = hmac.digest(settings.SECRET_KEY.encode(), b"tarebook set-up", "sha256")
    code = "".join(ALPHABET[byte % len(ALPHABET)] for byte in digest[:CODE_LENGTH])
    return f"{code[:4]}-{code[4:]}"


def is_setup_code(text: str) -> bool:
    """Whether `text` is the code; capitals, spaces and the dash do not matter, nor O for 0 and I or L for 1."""
    plain = "".join(char for char in text.upper() if char.isalnum()).translate(str.maketrans("OIL", "011"))
    return secrets.compare_digest(plain.encode(), setup_code().replace("-", "").encode())


def zones() -> list[str]:
    """Return the time zones that a workshop may stand in, places before plain offsets."""
    return sorted(name for name in available_timezones() if "/" in name and not name.startswith(("Etc/", "SystemV/")))


def create_workshop(
    *, name: str, address: str, zone: str, altitude_m: float | None, jurisdiction: str, owner: User
) -> Workshop:
    """Open a workshop with its book and make `owner` its owner, all or nothing; raises ``SetUpError``.

    `altitude_m` in metres above the sea, -500 to 11,000, None where it is not known. Its part of the addresses is made
    of the name; units are those proposed under its rules until they are chosen. A person who has a workshop whose
    set-up is not over gets that one, changed: a second press opens no second book.
    """
    judge_place(zone, altitude_m)
    with transaction.atomic(durable=True):
        User.objects.select_for_update().get(pk=owner.pk)
        begun = begun_by(owner)
        if begun is not None:
            return change_workshop(
                begun, name=name, address=address, zone=zone, altitude_m=altitude_m, jurisdiction=jurisdiction
            )
        if Book.objects.filter(name=name).exists():
            raise SetUpError(f"There is a workshop {name} already. Give this one another name.")
        workshop = Workshop.objects.create(
            book=ledger.open_book(name, zone),
            slug=free_slug(name),
            name=name,
            address=address,
            zone=zone,
            altitude_m=altitude_m,
            jurisdiction=jurisdiction,
            set_up={},
            **PROPOSED[jurisdiction],
        )
        Membership.objects.create(user=owner, workshop=workshop, role=OWNER)
    return workshop


def judge_place(zone: str, altitude_m: float | None) -> None:
    """Refuse a time zone or a height that no workshop has."""
    if zone != "UTC" and zone not in available_timezones():
        raise SetUpError(f"There is no time zone {zone}. Choose one from the list.")
    try:
        air_at(altitude_m)
    except OutsideAtmosphere as error:
        raise SetUpError(str(error)) from None


def change_workshop(workshop: Workshop, **facts: Any) -> Workshop:
    """Put right what the set-up has asked of the workshop; units follow its rules until they are chosen."""
    judge_place(facts["zone"], facts["altitude_m"])
    with transaction.atomic():
        if facts["jurisdiction"] != workshop.jurisdiction and "rules" not in (workshop.set_up or {}):
            facts |= PROPOSED[facts["jurisdiction"]]
        for name, value in facts.items():
            setattr(workshop, name, value)
        workshop.save()
        Book.objects.filter(pk=workshop.book_id).update(zone=workshop.zone)
    return workshop


def begun_by(person: User) -> Workshop | None:
    """Return the workshop that a person is setting up as its owner; None where there is none."""
    rows = Membership.objects.filter(user=person, role=OWNER, active=True, workshop__set_up__isnull=False)
    member = rows.select_related("workshop__book").order_by("pk").first()
    return member.workshop if member else None


def steps_of(workshop: Workshop) -> dict[str, str]:
    """Return what became of each step after the owner: `DONE`, `LATER` or `OPEN`. What stands is done, anyhow."""
    said: dict[str, str] = workshop.set_up or {}
    owners = Membership.objects.filter(workshop=workshop, role=OWNER)
    stands = {
        "workshop": True,
        "scales": workshop.book.scales.exists(),
        "gauges": workshop.book.gauges.exists(),
        "cylinders": Cylinder.objects.filter(account__book=workshop.book).exists(),
        "machine": Cylinder.objects.filter(account__book=workshop.book, kind=Cylinder.TANK).exists(),
        "certificate": Certification.objects.filter(user__memberships__in=owners).exists(),
        "people": Membership.objects.filter(workshop=workshop)[:2].count() > 1,
    }
    return {step: DONE if stands.get(step) else said.get(step, OPEN) for step in STEPS[1:]}


def next_step(workshop: Workshop) -> str:
    """Return the first step that is neither done nor put off; "" where the set-up is over."""
    return next((step for step, became in steps_of(workshop).items() if became == OPEN), "")


def goes_on_at(person: User) -> tuple[Workshop, str] | None:
    """Return the workshop and the needed step at which a person's set-up goes on after signing in, or None."""
    workshop = begun_by(person)
    step = next_step(workshop) if workshop else ""
    return (workshop, step) if workshop and step in NEEDED else None


def note_step(workshop: Workshop, step: str, became: str) -> None:
    """Keep what became of a step, `DONE` or `LATER`; the other steps keep theirs."""
    with transaction.atomic():
        now = Workshop.objects.select_for_update().get(pk=workshop.pk)
        workshop.set_up = now.set_up = {**(now.set_up or {}), step: became}
        now.save(update_fields=["set_up"])


def keep_here_alone(workshop: Workshop, *, alone: bool) -> None:
    """Keep whether the book is used on the server's own machine alone, so that no paper asks about its address."""
    workshop.here_alone = alone
    workshop.save(update_fields=["here_alone"])


def free_slug(name: str) -> str:
    """Return an address part that no workshop has: the name's letters, with a number where taken."""
    base = slugify(name)[:34].strip("-") or "workshop"
    taken = set(Workshop.objects.filter(slug__startswith=base).values_list("slug", flat=True))
    number = 1
    while (slug := base if number == 1 else f"{base}-{number}") in taken:
        number += 1
    return slug
