"""The facts of partners' own lists: what they say, beside what the book says of the same gate."""

from collections.abc import Iterable
from datetime import date, datetime
from zoneinfo import ZoneInfo

from django.db.models import Q
from django.db.models.functions import Coalesce

from compliance.matching.lists import ours_of, said_by
from compliance.rules import facts
from inventory.models import Partner, PartnerList
from shop.models import Workshop


def listed(workshop: Workshop, since: datetime, zone: ZoneInfo, today: date) -> Iterable[facts.Listed]:
    begins = since.astimezone(zone).date()
    asked = Q(lists_from__isnull=False) | Q(lists__withdrawn=False)
    of_book = Partner.objects.filter(account__book=workshop.book)
    accounts = set(of_book.filter(asked).values_list(Coalesce("account__joined_to", "account"), flat=True))
    for one in of_book.filter(account__in=accounts).select_related("account").order_by("pk"):
        lists = PartnerList.objects.filter(partner__account__in=one.account.together(), withdrawn=False)
        rows, covered = said_by(lists)
        yield facts.Listed(
            partner=one.account.number,
            asked_from=one.lists_from,
            rows=tuple(row for row in rows if row.on >= begins),
            lines=tuple(ours_of(one, begins, today)),
            covered=tuple(covered),
        )
