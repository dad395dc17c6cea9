"""The totals of days and months: carried with every line, made anew from the lines alone, and proved by `verify`."""

import pytest
from django.db import transaction

from inventory.book import audit
from inventory.models import Movement, PeriodTotal
from inventory.models.totals import ADDED, ALIKE, fill

pytestmark = pytest.mark.tampers


def totals() -> set[tuple[object, ...]]:
    return set(PeriodTotal.objects.values_list("book", *ALIKE, *ADDED))


def test_adding_up_all_lines_anew_gives_what_was_carried(story, sister_book):
    carried = totals()
    assert {bool(row[1]) for row in carried} == {False, True}  # days and months
    PeriodTotal.objects.all().delete()
    fill(Movement, PeriodTotal)
    assert totals() == carried


def test_days_of_a_month_add_up_to_the_month(story):
    for code in PeriodTotal.objects.values_list("refrigerant", flat=True).distinct():
        rows = PeriodTotal.objects.filter(refrigerant=code)
        sums = [
            sorted(
                (begins.strftime("%Y-%m"), mass, lines)
                for begins, mass, lines in rows.filter(whole_month=whole).values_list("begins_on", "mass_mg", "lines")
            )
            for whole in (True, False)
        ]
        by_month = {month: (0, 0) for month, _mass, _lines in sums[1]}
        for month, mass, lines in sums[1]:
            by_month[month] = (by_month[month][0] + mass, by_month[month][1] + lines)
        of_months = dict.fromkeys(by_month, (0, 0))
        for month, mass, lines in sums[0]:
            of_months[month] = (of_months[month][0] + mass, of_months[month][1] + lines)
        assert of_months == by_month


@pytest.mark.parametrize("name", ADDED)
def test_a_total_that_was_changed_is_named(story, name):
    for one in PeriodTotal.objects.all():
        with transaction.atomic():
            PeriodTotal.objects.filter(pk=one.pk).update(**{name: getattr(one, name) + 1})
            said = [str(fault) for fault in audit.faults(story)]
            transaction.set_rollback(True)
        assert len(said) == 1
        assert said[0].startswith(f"total of {one.begins_on:%Y-%m}")
        assert f"{name} {getattr(one, name)}" in said[0]


def test_a_lost_total_and_an_invented_one_are_named(story):
    one = PeriodTotal.objects.earliest("pk")
    PeriodTotal.objects.filter(pk=one.pk).update(cause="purge")
    said = [str(fault) for fault in audit.faults(story)]
    assert len(said) == 2
    assert "purge" in said[0]
    assert "movements say mass_mg 0" in said[0]
    assert "is not there" in said[1]
