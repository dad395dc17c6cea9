"""A book that was kept before the law's facts had columns: its history says them from the migration on."""

from typing import Any

import pytest
from django.core.management import call_command
from django.db import connection

from inventory.book import changed
from inventory.models import Trace


@pytest.mark.django_db(transaction=True)
def test_states_are_written_anew_with_the_new_columns(workshop: Any, make_vehicle: Any) -> None:
    car = make_vehicle("AB 123")
    try:
        call_command("migrate", "shop", "0018_history", verbosity=0)
        call_command("migrate", "inventory", "0014_history", verbosity=0)
    finally:
        call_command("migrate", verbosity=0)
    last = Trace.objects.filter(model="vehicle", record=car.pk).latest("seq")
    assert '"type_approved":null' in last.said
    assert list(changed.faults(workshop.book)) == []
    with connection.cursor() as cursor:
        cursor.execute("UPDATE shop_vehicle SET type_approved = '2009-01-01' WHERE id = %s", [car.pk])
    assert [str(one) for one in changed.faults(workshop.book)] == [
        f"vehicle {car.pk}: type_approved was changed outside the product"
    ]
    with connection.cursor() as cursor:
        cursor.execute("UPDATE shop_vehicle SET type_approved = NULL WHERE id = %s", [car.pk])
