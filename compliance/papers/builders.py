"""Who builds which document: one function for each kind.

A builder reads the records of a workshop and returns a `Paper`; it raises `NothingToIssue` where the record cannot
have such a document. It writes nothing, and two calls on the same records return the same paper.
"""

from datetime import date
from typing import Protocol

from compliance.papers.paper import Paper
from shop.models import Workshop


class Builder(Protocol):
    """What builds a document of one kind; `about` names the record, such as ``visit:12``."""

    def __call__(self, workshop: Workshop, about: str, *, today: date) -> Paper: ...


BUILDERS: dict[str, Builder] = {}
