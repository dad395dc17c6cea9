"""The list of partners, and what went to one of them."""

from typing import Any

import django_tables2 as tables

from inventory.pages.tables.columns import DayColumn, MassColumn, in_book_unit, to_page
from inventory.pages.tables.table import BookTable


class PartnerTable(BookTable):
    """Partners of the book."""

    nouns = ("partner", "partners")
    name = tables.Column("Name", linkify=to_page("partner", lambda record: record.account.number))
    kind = tables.Column("Kind")
    registration = tables.Column("Registration number")
    address = tables.Column("Address", orderable=False)
    state = tables.Column("State", accessor="retired", orderable=False)

    class Meta:
        order_by = "name"

    def render_state(self, value: bool) -> str:
        return "no longer used" if value else "in use"

    def render_address(self, value: str) -> str:
        return " ".join(value.split())


class ConsignmentTable(BookTable):
    """What went to one partner, and what its paper accepted."""

    nouns = ("consignment", "consignments")
    margin = True
    sent_on = DayColumn(verbose_name="Sent", accessor="entry__booked_on", orderable=False)
    number = tables.Column("Number", orderable=False, linkify=to_page("entry", lambda record: record.entry.seq))
    cylinder = tables.Column(
        "Cylinder", orderable=False, linkify=to_page("cylinder", lambda record: record.cylinder.account.number)
    )
    purpose = tables.Column("What for", orderable=False)
    accepted = MassColumn("Accepted", accessor="accepted_mg", orderable=False, default="no paper yet")
    paper_number = tables.Column("Our paper", orderable=False)
    accepted_paper = tables.Column("Their paper", orderable=False)

    class Meta:
        order_by = "-pk"

    def __init__(self, *args: Any, **options: Any) -> None:
        super().__init__(*args, html_id="consignments", **options)
        in_book_unit(self, "accepted")
