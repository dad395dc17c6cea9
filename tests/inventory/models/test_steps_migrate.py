"""Steps that were kept as whole milligrams become what the display shows, and back again, in a filled book."""

from typing import Any

import pytest
from django.core.management import call_command

from inventory.book import guards
from inventory.models import Scale

BEFORE, AFTER = "0005_stamped_filling_limit", "0006_steps_as_shown"


ROWS = [
    (14_175, {"step": "0.5 oz"}, "0.5", "oz"),
    (14_175, {"step": "0.5"}, "0.5", "oz"),  # the unit was chosen beside it
    (14_175, {}, "0.5", "oz"),
    (45_359, {"step": ".1 lbs"}, "0.1", "lb"),
    (9_072, {"step": "0,02"}, "0.02", "lb"),
    (9_072, {"step": "two hundredths"}, "0.02", "lb"),
    (5_000, {"step": "5 g"}, "5", "g"),
    (5_000, {"step": "0.005 kg"}, "0.005", "kg"),
    (5_000, {"step": "5"}, "5", "g"),
    (2_000, {"step": "5 g"}, "2", "g"),  # changed since by other means: the milligrams hold
    (500, {}, "0.5", "g"),
    (12_345, {}, "12.345", "g"),
]


@pytest.mark.django_db(transaction=True)
def test_a_step_kept_in_milligrams_is_read_from_what_was_typed(book: Any) -> None:
    for number, (step_mg, typed, _, _) in enumerate(ROWS, 1):
        Scale.objects.create(book=book, number=number, name=f"S{number}", step_mg=step_mg, typed=typed)
    try:
        call_command("migrate", "inventory", BEFORE, verbosity=0)
        call_command("migrate", "inventory", AFTER, verbosity=0)
        scales = list(Scale.objects.order_by("number"))
        assert [(one.step_mg, one.typed, one.step_number, one.step_unit) for one in scales] == ROWS
        assert [round(one.step.mg) for one in scales] == [row[0] for row in ROWS]
        call_command("migrate", "inventory", BEFORE, verbosity=0)
    finally:
        call_command("migrate", verbosity=0)  # of the floors above too, whose migrations went back with these
    assert guards.missing() == []
    assert [round(one.step.mg) for one in Scale.objects.order_by("number")] == [row[0] for row in ROWS]
