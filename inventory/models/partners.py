"""Parties outside, and what was sent to them."""

from typing import ClassVar

from django.db import models

from inventory.models.book import Account, Book
from inventory.models.cylinders import Cylinder
from inventory.models.kept import Kept
from inventory.models.likeness import LikenessField
from inventory.models.lines import Entry
from inventory.models.standing import OfLines
from inventory.models.trace import History


class Partner(Kept):
    """A supplier, reclaimer, destruction facility, sister workshop or other party outside."""

    KINDS = ("supplier", "reclaimer", "destruction facility", "sister workshop", "customer", "other")

    account = models.OneToOneField(Account, models.PROTECT, related_name="partner")
    name = models.CharField(max_length=120)
    likeness = LikenessField(of="name")
    kind = models.CharField(max_length=24, choices=[(kind, kind) for kind in KINDS])
    address = models.TextField(blank=True)
    registration = models.CharField(max_length=80, blank=True)
    contact = models.CharField(max_length=120, blank=True)
    sister = models.ForeignKey(Book, models.PROTECT, null=True, blank=True, related_name="+")
    retired = models.BooleanField(default=False)
    lists_from = models.DateField(null=True, blank=True)  # their own list is asked for each quarter from then on

    history = History("account__book")

    def __str__(self) -> str:
        return self.name


class PartnerList(Kept):
    """What a partner's own list says of a period, kept to be held against the book. The newest of a day counts.

    `rows` are ``[day, refrigerant, delivered or taken back, milligrams, paper, row in their file]``.
    """

    partner = models.ForeignKey(Partner, models.PROTECT, related_name="lists")
    first = models.DateField()
    last = models.DateField()
    rows = models.JSONField(default=list)
    said = models.JSONField(default=list, blank=True)  # sentences of what was odd about the file
    file_name = models.CharField(max_length=120)
    digest = models.CharField(max_length=64)  # SHA-256 of the file
    actor = models.CharField(max_length=40)  # the handle of who kept it
    kept_at = models.DateTimeField()
    withdrawn = models.BooleanField(default=False)  # of another partner, or no list at all

    history = History("partner__account__book")

    class Meta:
        ordering: ClassVar = ["-kept_at", "-pk"]

    def __str__(self) -> str:
        return f"list of {self.partner}, {self.first} to {self.last}"


class Consignment(Kept):
    """Gas sent away: the purpose, the papers, and what the receiver accepted (noted beside, never posted)."""

    PURPOSES = ("reclaim", "destruction", "return to supplier", "sale", "sister workshop", "other")

    entry = models.OneToOneField(Entry, models.PROTECT, related_name="consignment")
    number = models.CharField(max_length=40)
    purpose = models.CharField(max_length=24, choices=[(p, p) for p in PURPOSES])
    partner = models.ForeignKey(Partner, models.PROTECT, related_name="consignments")
    cylinder = models.ForeignKey(Cylinder, models.PROTECT, related_name="consignments")
    paper_number = models.CharField(max_length=60, blank=True)
    number_likeness = LikenessField(of="number")
    paper_likeness = LikenessField(of="paper_number")
    accepted_paper = models.CharField(max_length=60, blank=True, default="")  # the receiver’s own number
    accepted_likeness = LikenessField(of="accepted_paper")
    accepted_mg = models.PositiveBigIntegerField(null=True, blank=True)
    accepted_oil_mg = models.PositiveBigIntegerField(null=True, blank=True)
    accepted_on = models.DateField(null=True, blank=True)

    history = History("entry__book")

    objects: ClassVar = OfLines["Consignment"].as_manager()

    def __str__(self) -> str:
        return self.number
