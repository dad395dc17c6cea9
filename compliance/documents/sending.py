"""Sending an issued paper by e-mail, once for each form. To which address is not kept.

NotSent     it did not go out; the text is a sentence for the person
"""

from datetime import datetime
from uuid import UUID

from django.conf import settings
from django.core.mail import EmailMessage

from compliance.documents.signing import signed_copy
from compliance.due.mailing import in_one_line, why_away
from compliance.models import Document, Sending
from inventory.measure.reach import stays_here
from shop.models import User

BROKEN_OFF = (
    "This mail was begun and broken off; whether it went out is not known. Ask whoever was to get it, or open the page "
    "again to send it once more."
)


class NotSent(Exception):
    """The paper did not go out."""


def send(document: Document, *, to: str, words: str, by: User, key: UUID, now: datetime) -> Sending:
    """Send a paper to an address, once for `key`; with signatures its signed copy goes along. Raises NotSent."""
    one, made = Sending.objects.get_or_create(request_key=key, defaults={"document": document, "by": by, "at": now})
    if not made:
        if one.document_id != document.pk:
            raise NotSent("This form sent another paper. Open the page again.")
        if one.state == Sending.SENT:
            return one
        if not Sending.objects.filter(pk=one.pk, state=Sending.NOT_SENT).update(state=Sending.BEGUN, at=now):
            raise NotSent(BROKEN_OFF)
    message = letter(document, to=to, words=words)
    one.state = Sending.NOT_SENT
    try:
        message.send()
        one.state = Sending.SENT
    except OSError as error:  # of the net, and of the server's own answers
        raise NotSent(f"{why_away(error)} Nothing was sent; press again later, or take the PDF along.") from error
    finally:
        one.save()
    return one


def letter(document: Document, *, to: str, words: str) -> EmailMessage:
    """Return the mail: what was written, what is attached, and how it is checked."""
    shop = in_one_line(document.workshop.name)
    where = " at the workshop" if stays_here(settings.ADDRESS) else f" at {settings.ADDRESS}/verify/"
    parts = [
        words.strip(),
        f"{shop} sends you: {document.title}, no. {document.number}, issued {document.issued_at:%Y-%m-%d}.",
        f"Its check code is {document.code}; whether it was issued so can be asked{where} by that code.",
    ]
    subject = in_one_line(f"{document.title}, no. {document.number}, {shop}")
    message = EmailMessage(subject, "\n\n".join(filter(None, parts)) + "\n", to=[to])
    name = document.kind.replace(" ", "-")
    message.attach(f"{name}-{document.number}.pdf", bytes(document.file), "application/pdf")
    if document.signatures.exists():
        message.attach(f"{name}-{document.number}-signed.pdf", signed_copy(document), "application/pdf")
    return message
