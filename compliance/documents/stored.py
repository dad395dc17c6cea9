"""What is stored of issued papers about somebody: who took signatures and sent mails; papers, signatures of a visit.

The strokes of a signature that was drawn stand as they are kept: they are its owner's.
"""

import json
from datetime import datetime
from typing import Any

from compliance.models import Document, Sending, Signature
from shop.models import User, Visit, Workshop


def of_person(user: User, workshop: Workshop) -> dict[str, Any]:
    """Return the mails of papers and the signatures that a person of a workshop is named with, as data for JSON."""
    sent = Sending.objects.filter(by=user, document__workshop=workshop).select_related("document").order_by("at", "pk")
    signed = Signature.objects.filter(document__workshop=workshop).select_related("document", "entry", "taken_by")
    own = [one for one in signed if one.taken_by_id == user.pk or one.name == str(user)]
    return {
        "papers_mailed": [{"paper": one.document.number, **_mail(one)} for one in sent],
        "signatures": [
            {
                "paper": one.document.number,
                "part": "signed" if one.name == str(user) else "took the signature",
                **(_signature(one) if one.name == str(user) else {"line": one.entry.seq, "at": _plain(one.signed_at)}),
            }
            for one in own
        ],
    }


def of_visit(visit: Visit) -> dict[str, Any]:
    """Return the papers issued of a visit, with their signatures and mails; to which address is not kept."""
    rows = Document.objects.filter(workshop_id=visit.workshop_id, about=visit.context).order_by("number")
    return {
        "papers": [
            {
                "number": one.number,
                "kind": one.kind,
                "issued_at": _plain(one.issued_at),
                "signatures": [_signature(each) for each in one.signatures.select_related("entry")],
                "mails": [_mail(each) for each in one.sendings.all()],
            }
            for one in rows.prefetch_related("sendings")
        ]
    }


def _signature(one: Signature) -> dict[str, Any]:
    strokes = json.loads(one.content).get("strokes", [])
    return {"name": one.name, "for": one.part, "at": _plain(one.signed_at), "line": one.entry.seq, "strokes": strokes}


def _mail(one: Sending) -> dict[str, Any]:
    return {"at": _plain(one.at), "state": one.state}


def _plain(moment: datetime) -> str:
    return moment.isoformat(timespec="seconds")
