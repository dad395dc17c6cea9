"""A book and the accounts that mass moves between."""

import uuid
from typing import ClassVar

from django.db import models
from django.db.models import F, Q

from inventory.causes import ACCOUNT_KINDS, SINGLE_KINDS
from inventory.models.kept import Kept
from inventory.models.trace import History


class Book(Kept):
    """One workshop's mass book: the head of its chain and the lock of every act. It only goes forward."""

    uid = models.UUIDField(unique=True, default=uuid.uuid4, editable=False)
    name = models.CharField(max_length=120, unique=True)
    zone = models.CharField(max_length=64, default="UTC")
    head_seq = models.PositiveBigIntegerField(default=0)
    head_digest = models.CharField(max_length=64, default="", blank=True)
    closed_through = models.DateField(null=True, blank=True)
    trace_seq = models.PositiveBigIntegerField(default=0, editable=False)  # the head of its history: see `trace`
    trace_digest = models.CharField(max_length=64, default="", blank=True, editable=False)

    history = History("pk", only=("name", "zone"))

    def __str__(self) -> str:
        return self.name


class Account(Kept):
    """A number, a kind and a label in a book. The label is a copy for reading: mutable and not digested."""

    book = models.ForeignKey(Book, models.PROTECT, related_name="accounts")
    number = models.PositiveIntegerField()
    kind = models.CharField(max_length=12, choices=[(kind, kind) for kind in ACCOUNT_KINDS])
    label = models.CharField(max_length=120, blank=True)
    # Two records of one vehicle or partner: the lines stay where they are, and this one is read as part of that one.
    joined_to = models.ForeignKey("self", models.PROTECT, null=True, blank=True, related_name="joined")

    history = History("book", without=("book",))

    class Meta:
        constraints: ClassVar = [
            models.UniqueConstraint(fields=["book", "number"], name="account_number_once"),
            models.UniqueConstraint(
                fields=["book", "kind"], condition=Q(kind__in=SINGLE_KINDS), name="account_single_kinds"
            ),
            models.CheckConstraint(condition=Q(kind__in=ACCOUNT_KINDS), name="account_kind_known"),
            models.CheckConstraint(condition=~Q(joined_to=F("pk")), name="account_joined_to_another"),
        ]

    def __str__(self) -> str:
        return self.label or self.kind

    def together(self) -> models.QuerySet["Account"]:
        """Return the account and those that are joined to it."""
        return Account.objects.filter(Q(pk=self.pk) | Q(joined_to=self.pk))

    @property
    def reference(self) -> str:
        """The account as the digest names it, such as ``air:2``."""
        return f"{self.kind}:{self.number}"
