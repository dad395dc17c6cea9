"""People: users, their roles in workshops and their certificates."""

import secrets
from dataclasses import replace
from typing import ClassVar

from django.contrib.auth.models import AbstractUser, UserManager
from django.db import models

from inventory.measure.own import Units
from inventory.models.access import OWNER, READER, TECHNICIAN
from inventory.models.kept import Kept, KeptQuerySet
from inventory.models.trace import History

HANDLE_ALPHABET = "23456789abcdefghjkmnpqrstvwxyz"


def new_handle() -> str:
    """Return a random handle: it stands for a person in the digested book, which holds no names."""
    return "p-" + "".join(secrets.choice(HANDLE_ALPHABET) for _ in range(8))


class Users(UserManager["User"]):
    """People, whose names are kept."""

    use_in_migrations = False

    def get_queryset(self) -> KeptQuerySet["User"]:
        return KeptQuerySet(self.model, using=self._db)


class User(AbstractUser, Kept):
    """A person. One without a password does not sign in but may have done work (from imported years)."""

    handle = models.CharField(max_length=16, unique=True, default=new_handle, editable=False)
    display_name = models.CharField(max_length=120, blank=True)
    pin = models.CharField(max_length=128, blank=True, default="", editable=False)  # hashed; see shop.people.hands
    pin_tries = models.PositiveSmallIntegerField(default=0, editable=False)

    objects: ClassVar[Users] = Users()  # type: ignore[assignment]
    history = History("memberships__workshop__book", only=("handle", "username", "display_name", "is_active"))

    def __str__(self) -> str:
        return self.display_name or self.username


class Membership(Kept):
    """A person's role in one workshop."""

    ROLES = (OWNER, TECHNICIAN, READER)

    user = models.ForeignKey(User, models.PROTECT, related_name="memberships")
    workshop = models.ForeignKey("shop.Workshop", models.PROTECT, related_name="memberships")
    role = models.CharField(max_length=12, choices=[(role, role) for role in ROLES])
    is_trainee = models.BooleanField(default=False)
    enrolled_on = models.DateField(null=True, blank=True)
    active = models.BooleanField(default=True)
    own_units = models.JSONField(default=dict, blank=True)  # {"mass": "lb"}: those chosen other than the workshop's

    history = History("workshop__book", without=("own_units",), also=("user", "user__certifications"))

    class Meta:
        constraints: ClassVar = [
            models.UniqueConstraint(fields=["user", "workshop"], name="membership_once"),
        ]

    def __str__(self) -> str:
        return f"{self.user}, {self.role}"

    @property
    def units(self) -> Units:
        """The units in which this person reads here: as chosen, else the workshop's."""
        return replace(self.workshop.units, **self.own_units)


class Certification(Kept):
    """A certificate or attestation of a person; some never expire."""

    user = models.ForeignKey(User, models.PROTECT, related_name="certifications")
    scheme = models.CharField(max_length=120)
    category = models.CharField(max_length=20, blank=True, default="")  # a key of `shop.people.certificates.CATEGORIES`
    number = models.CharField(max_length=80)
    issuer = models.CharField(max_length=120, blank=True)
    issued_on = models.DateField(null=True, blank=True)
    expires_on = models.DateField(null=True, blank=True)
    never_expires = models.BooleanField(default=False)
    scope = models.CharField(max_length=200, blank=True)

    history = History("user__memberships__workshop__book")

    def __str__(self) -> str:
        return f"{self.scheme} {self.number}"
