"""The code on a cylinder's label: one cylinder's alone, whatever chance draws."""

from typing import Any

import pytest

from inventory.models import Cylinder

pytestmark = pytest.mark.django_db


def test_a_code_that_another_cylinder_bears_is_drawn_anew(make_cylinder: Any, sister_book: Any) -> None:
    first = make_cylinder()
    second = make_cylinder(label=first.label, book=sister_book)
    assert second.label != first.label
    assert Cylinder.objects.get(pk=second.pk).label == second.label


def test_a_cylinder_keeps_its_code_however_often_it_is_saved(make_cylinder: Any) -> None:
    one = make_cylinder()
    label = one.label
    one.serial = "another"
    one.save()
    assert Cylinder.objects.get(pk=one.pk).label == label
