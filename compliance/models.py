"""What stands on the top floor: findings and what the owner said of them, issued documents, links for readers.

Nothing here is deleted. Findings are a copy that the rules can make again; decisions, documents and what a reader
opened are kept as they were written.
"""

import secrets
import uuid
from typing import ClassVar

from django.db import models
from django.db.models import Q

from inventory.models import Entry
from inventory.models.kept import Kept
from inventory.models.trace import History
from shop.models import Membership, User, Visit, Workshop


class Finding(Kept):
    """What a rule says of one record, as it was last judged. A finding that no longer arises becomes *met*."""

    OPEN, BREACH, MET = "open", "breach", "met"
    STATES = (OPEN, BREACH, MET)

    workshop = models.ForeignKey(Workshop, models.PROTECT, related_name="findings")
    rule = models.CharField(max_length=40)
    about = models.CharField(max_length=60)  # such as visit:12, cylinder:7, line:214, person:p-7x, book
    part = models.CharField(max_length=60, blank=True)  # tells two findings of one rule and record apart
    state = models.CharField(max_length=8, choices=[(state, state) for state in STATES])
    words = models.TextField()
    way_out = models.TextField(blank=True)
    law_of = models.DateField()  # the day whose law was used
    day = models.DateField()  # of the act, or since when it is owed
    line = models.PositiveBigIntegerField(null=True, blank=True)  # of the book, where one shows it
    person = models.CharField(max_length=16, blank=True)  # handle of whose act it is
    first_seen = models.DateTimeField(auto_now_add=True)
    judged_at = models.DateTimeField()

    history = History("workshop__book", only=("rule", "about", "part", "state", "day", "law_of", "line"))

    class Meta:
        constraints: ClassVar = [
            models.UniqueConstraint(fields=["workshop", "rule", "about", "part"], name="finding_once"),
        ]
        indexes: ClassVar = [
            models.Index(fields=["workshop", "state", "rule", "day"], name="finding_owed"),
            models.Index(fields=["workshop", "about"], name="finding_about"),
        ]

    def __str__(self) -> str:
        return f"{self.rule}, {self.about}"


class Decision(Kept):
    """What the owner said of a finding, with the reason. The newest counts; all stay."""

    EXPLAINED, ACCEPTED, REOPENED = "explained", "accepted", "taken up again"
    KINDS = (EXPLAINED, ACCEPTED, REOPENED)

    finding = models.ForeignKey(Finding, models.PROTECT, related_name="decisions")
    kind = models.CharField(max_length=16, choices=[(kind, kind) for kind in KINDS])
    reason = models.TextField()
    by = models.ForeignKey(User, models.PROTECT, related_name="+")
    at = models.DateTimeField()
    state = models.CharField(max_length=8)  # what the finding was then: a worse one is not covered by it
    request_key = models.UUIDField(unique=True)

    history = History("finding__workshop__book", without=("request_key",))

    class Meta:
        ordering: ClassVar = ["-at", "-id"]

    def __str__(self) -> str:
        return f"{self.kind}: {self.reason}"


class Judged(models.Model):
    """How far a workshop's records were judged, so that a page need not judge them again."""

    workshop = models.OneToOneField(Workshop, models.PROTECT, related_name="judged")
    code = models.CharField(max_length=64)  # digest of what judged: other rules, other findings
    at = models.DateTimeField()
    day = models.DateField(null=True)  # the workshop's own
    took_s = models.FloatField(default=0.0)
    jurisdiction = models.CharField(max_length=8, blank=True, default="")  # whose rules it was judged by
    seq = models.PositiveBigIntegerField(default=0)  # the last line of the book that was looked at
    alone_seq = models.PositiveBigIntegerField(default=0)  # the last one whose vehicle was judged by itself
    size = models.PositiveBigIntegerField(default=0)  # visits and lines that were looked at
    begun_at = models.DateTimeField(null=True)  # while a process is at it

    def __str__(self) -> str:
        return f"up to line {self.seq}"


class Noticed(models.Model):
    """A record that has changed and was not judged since; the database's own triggers write it (`noticing`)."""

    book = models.BigIntegerField()  # its key, no relation: a trigger asks nothing of it
    kind = models.CharField(max_length=8)
    record = models.BigIntegerField()  # key of the visit, or of the vehicle's account
    alone = models.BooleanField(default=False, db_default=False)  # judged by itself, though not yet with all others

    class Meta:
        indexes: ClassVar = [models.Index(fields=["book"], name="noticed_book")]

    def __str__(self) -> str:
        return f"{self.kind} {self.record}"


class KeptVisit(models.Model):
    """The facts of a visit as rules look at them, kept until something that they are read from has changed."""

    visit = models.OneToOneField(Visit, models.PROTECT, related_name="kept_facts")
    facts = models.TextField()  # JSON of `rules.facts.Visit`
    code = models.CharField(max_length=64)  # digest of what read them

    def __str__(self) -> str:
        return f"facts of {self.visit}"


class Document(Kept):
    """A document as issued: its facts, its file, the lines it rests on, and where the book's chain stood then."""

    uid = models.UUIDField(unique=True, default=uuid.uuid4, editable=False)
    workshop = models.ForeignKey(Workshop, models.PROTECT, related_name="documents")
    number = models.PositiveIntegerField()
    kind = models.CharField(max_length=30)
    about = models.CharField(max_length=60)  # such as visit:12, cylinder:7, line:214, period:2025-01-01:2025-12-31
    title = models.CharField(max_length=200)
    code = models.CharField(max_length=20, unique=True)
    issued_at = models.DateTimeField()
    issued_by = models.ForeignKey(User, models.PROTECT, related_name="+")
    entry = models.OneToOneField(Entry, models.PROTECT, related_name="document")  # the line that seals its content
    content = models.TextField()  # the facts as JSON: what the digest is of
    content_digest = models.CharField(max_length=64)
    file = models.BinaryField()
    file_digest = models.CharField(max_length=64)
    pages = models.PositiveSmallIntegerField()
    lines = models.JSONField(default=list)  # numbers of the lines it rests on; of a period, its two ends are in `about`
    head_seq = models.PositiveBigIntegerField()
    head_digest = models.CharField(max_length=64, blank=True)
    replaces = models.OneToOneField("self", models.PROTECT, null=True, blank=True, related_name="replaced_by")
    request_key = models.UUIDField(unique=True)

    history = History("workshop__book", without=("workshop", "content", "request_key"))

    class Meta:
        constraints: ClassVar = [
            models.UniqueConstraint(fields=["workshop", "number"], name="document_number_once"),
        ]
        indexes: ClassVar = [models.Index(fields=["workshop", "kind", "about"], name="document_about")]

    def __str__(self) -> str:
        return f"no. {self.number}, {self.title}"


def link_token() -> str:
    """Return what a link is known by: 32 random bytes, shown once."""
    return secrets.token_urlsafe(32)


class ReaderLink(models.Model):
    """A link that lets whoever holds it read one statement, vehicle or set of documents until it ends.

    One of a visit is for the owner of the car, in plain words; it can be shown again, and printed on the record.
    """

    STATEMENT, VEHICLE, DOCUMENTS, VISIT = "statement", "vehicle", "documents", "visit"
    KINDS = (STATEMENT, VEHICLE, DOCUMENTS, VISIT)

    workshop = models.ForeignKey(Workshop, models.PROTECT, related_name="reader_links")
    token_digest = models.CharField(max_length=64, unique=True)  # SHA-256 of the token: the token itself is not kept
    kind = models.CharField(max_length=12, choices=[(kind, kind) for kind in KINDS])
    about = models.CharField(max_length=60, blank=True)  # period:2025-01-01:2025-12-31, vehicle:9, visit:12
    documents = models.ManyToManyField(Document, blank=True, related_name="reader_links")
    for_whom = models.CharField(max_length=120)
    on_paper = models.BooleanField(default=False)  # one of a visit: its record bears it as a QR code
    made_by = models.ForeignKey(User, models.PROTECT, related_name="+")
    made_at = models.DateTimeField()
    ends_at = models.DateTimeField()
    revoked_at = models.DateTimeField(null=True, blank=True)
    request_key = models.UUIDField(unique=True)

    class Meta:
        constraints: ClassVar = [
            models.CheckConstraint(
                condition=Q(kind__in=["statement", "vehicle", "documents", "visit"]), name="link_kind_known"
            ),
        ]

    def __str__(self) -> str:
        return f"link for {self.for_whom}"


class Opening(models.Model):
    """One page that was opened by a reader's link."""

    link = models.ForeignKey(ReaderLink, models.PROTECT, related_name="openings")
    at = models.DateTimeField()
    what = models.CharField(max_length=200)

    class Meta:
        ordering: ClassVar = ["-at", "-id"]

    def __str__(self) -> str:
        return self.what


class Reminded(models.Model):
    """Whether a person gets mail of what falls due in a workshop: everybody's own choice."""

    member = models.OneToOneField(Membership, models.PROTECT, related_name="reminded")
    by_mail = models.BooleanField(default=False)

    def __str__(self) -> str:
        return f"{self.member}: {'by mail' if self.by_mail else 'no mail'}"


class Reminder(models.Model):
    """The one mail that a person may get on a day: it is claimed before it is sent, and given back where it is not."""

    BEGUN, SENT, NOT_SENT = "begun", "sent", "not sent"
    STATES = (BEGUN, SENT, NOT_SENT)

    user = models.ForeignKey(User, models.PROTECT, related_name="reminders")
    day = models.DateField()
    state = models.CharField(max_length=8, choices=[(state, state) for state in STATES], default=BEGUN)
    at = models.DateTimeField()
    told = models.JSONField(default=list)  # what it said, each thing with how near it was
    why = models.CharField(max_length=200, blank=True)  # it was not sent

    class Meta:
        ordering: ClassVar = ["-day", "-id"]
        constraints: ClassVar = [models.UniqueConstraint(fields=["user", "day"], name="reminder_once_a_day")]

    def __str__(self) -> str:
        return f"{self.day}: {self.state}"


class CalendarAddress(models.Model):
    """A secret address at which a calendar reads what falls due; of a person, so that it ends when they leave."""

    member = models.ForeignKey(Membership, models.PROTECT, related_name="calendar_addresses")
    token_digest = models.CharField(max_length=64, unique=True)
    made_at = models.DateTimeField()
    revoked_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering: ClassVar = ["-made_at", "-id"]
        constraints: ClassVar = [
            models.UniqueConstraint(
                fields=["member"], condition=Q(revoked_at__isnull=True), name="calendar_address_one_stands"
            ),
        ]

    def __str__(self) -> str:
        return f"calendar of {self.member}"


class Signature(Kept):
    """Who signed an issued paper: a record of its own that names the paper's digest; the paper stays as it was."""

    document = models.ForeignKey(Document, models.PROTECT, related_name="signatures")
    name = models.CharField(max_length=120)
    part = models.CharField(max_length=120)  # for whom, as the paper has it: "For the workshop"
    content = models.TextField()  # as JSON, with the strokes where it was drawn: what the digest is of
    digest = models.CharField(max_length=64)
    entry = models.OneToOneField(Entry, models.PROTECT, related_name="signature")  # the line that seals it
    signed_at = models.DateTimeField()
    taken_by = models.ForeignKey(User, models.PROTECT, related_name="+")
    request_key = models.UUIDField(unique=True)

    history = History("document__workshop__book", without=("content", "request_key"))

    class Meta:
        ordering: ClassVar = ["signed_at", "pk"]

    def __str__(self) -> str:
        return f"{self.part}: {self.name}"


class Sending(models.Model):
    """A paper that went out by e-mail, or did not. To which address is not kept."""

    BEGUN, SENT, NOT_SENT = "begun", "sent", "not sent"

    document = models.ForeignKey(Document, models.PROTECT, related_name="sendings")
    by = models.ForeignKey(User, models.PROTECT, related_name="+")
    at = models.DateTimeField()
    state = models.CharField(max_length=8, default=BEGUN)
    request_key = models.UUIDField(unique=True)

    class Meta:
        ordering: ClassVar = ["-at", "-pk"]

    def __str__(self) -> str:
        return f"{self.state} {self.at}"
