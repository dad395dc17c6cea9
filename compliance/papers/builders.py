"""Who builds which document: one function for each kind.

A builder reads the records of a workshop and returns a `Paper`; it raises `NothingToIssue` where the record cannot
have such a document. It writes nothing, and two calls on the same records return the same paper.
"""

from datetime import date
from typing import Protocol

from compliance.papers.consignments import consignment_note
from compliance.papers.conversions import conversion_label
from compliance.papers.labels import cylinder_labels
from compliance.papers.log import cylinder_log
from compliance.papers.paper import CONSIGNMENT, CONVERSION, LABELS, LOG, RECOVERY, REGISTER, USAGE, VISIT, Paper
from compliance.papers.recoveries import recovery_certificate
from compliance.papers.register import certificate_register
from compliance.papers.usage import usage_report
from compliance.papers.visits import visit_record
from shop.models import Workshop


class Builder(Protocol):
    """What builds a document of one kind; `about` names the record, such as ``visit:12``."""

    def __call__(self, workshop: Workshop, about: str, *, today: date) -> Paper: ...


BUILDERS: dict[str, Builder] = {
    VISIT: visit_record,
    RECOVERY: recovery_certificate,
    CONVERSION: conversion_label,
    LABELS: cylinder_labels,
    LOG: cylinder_log,
    CONSIGNMENT: consignment_note,
    REGISTER: certificate_register,
    USAGE: usage_report,
}
