"""The first minutes of an installation: the code from the console, the owner, the workshop and its book.

SetUpError      a workshop that cannot be opened; the text is a sentence for the person
"""

import hmac
import secrets
from zoneinfo import available_timezones

from django.conf import settings
from django.db import transaction
from django.utils.text import slugify

from inventory import ledger
from inventory.access import OWNER
from inventory.atmosphere import OutsideAtmosphere, air_at
from inventory.codes import ALPHABET
from inventory.models import Book
from shop.models import Membership, User, Workshop

CODE_LENGTH = 8


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
    *,
    name: str,
    address: str,
    zone: str,
    altitude_m: float | None,
    jurisdiction: str,
    gwp_basis: str,
    mass_unit: str,
    pressure_unit: str,
    temperature_unit: str,
    owner: User,
) -> Workshop:
    """Open a workshop with its book and make `owner` its owner, all or nothing; raises ``SetUpError``.

    `altitude_m` in metres above the sea, -500 to 11,000, None where it is not known. Its part of the
    addresses is made of the name.
    """
    if zone != "UTC" and zone not in available_timezones():
        raise SetUpError(f"There is no time zone {zone}. Choose one from the list.")
    try:
        air_at(altitude_m)
    except OutsideAtmosphere as error:
        raise SetUpError(str(error)) from None
    with transaction.atomic(durable=True):
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
            gwp_basis=gwp_basis,
            mass_unit=mass_unit,
            pressure_unit=pressure_unit,
            temperature_unit=temperature_unit,
        )
        Membership.objects.create(user=owner, workshop=workshop, role=OWNER)
    return workshop


def free_slug(name: str) -> str:
    """Return an address part that no workshop has: the name's letters, with a number where taken."""
    base = slugify(name)[:34].strip("-") or "workshop"
    taken = set(Workshop.objects.filter(slug__startswith=base).values_list("slug", flat=True))
    number = 1
    while (slug := base if number == 1 else f"{base}-{number}") in taken:
        number += 1
    return slug
