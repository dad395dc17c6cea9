"""What is proposed where a quantity as typed cannot be."""

from typing import Any

import pytest
from django import forms
from django.utils.datastructures import MultiValueDict

from inventory.measure.slips import Check, Proposal, proposals, within
from inventory.pages.fields.quantity import MassField, PressureField
from inventory.pages.forms.slips import ask, refuse


def texts(found: tuple[Proposal, ...]) -> list[str]:
    return [one.text for one in found]


@pytest.mark.parametrize(
    ("typed", "unit", "possible", "meant", "slip"),
    [
        ("83.55", "kg", within(7.2, 19.9), "8.355 kg", "decimal"),
        ("83,55", "kg", within(7.2, 19.9), "8.355 kg", "decimal"),
        ("8355", "kg", within(7.2, 19.9), "8355 g", "unit"),
        ("0.8355 kg", "g", within(7.2, 19.9), "8.355 kg", "decimal"),
        ("850", "kg", within(0.4, 1.2), "850 g", "unit"),
        ("5.83", "kg", within(7.2, 9.0), "8.53 kg", "digits"),
        ("18.4", "kg", within(7.2, 9.0), "18.4 lb", "unit"),
        ("24.5", "lb", within(20.0, 30.0), "24.5 kg", "unit"),
        ("24.5", "lb oz", within(20.0, 30.0), "24.5 kg", "unit"),
        ("30 oz", "kg", within(0.02, 0.04), "30 g", "unit"),
        ("1 lb 4.5 oz", "kg", within(4.6, 4.7), "10 lb 4.5 oz", "decimal"),
    ],
)
def test_a_mass_that_cannot_be_is_met_by_what_was_meant(
    typed: str, unit: str, possible: Check, meant: str, slip: str
) -> None:
    assert Proposal(meant, slip) in proposals(typed, unit, "mass", possible)  # type: ignore[arg-type] # a row's text


def test_what_is_usual_comes_alone_where_a_slip_leads_there() -> None:
    found = proposals("1.85", "kg", "mass", within(0.0, 20.0), likely=within(8.0, 8.7))
    assert texts(found) == ["8.15 kg"]
    assert len(proposals("1.85", "kg", "mass", within(0.0, 20.0))) == 3


def test_nothing_is_proposed_that_cannot_be_or_that_is_what_was_typed() -> None:
    assert proposals("83.55", "kg", "mass", within(900.0, 901.0)) == ()
    assert "83.55 kg" not in texts(proposals("83.55", "kg", "mass", within(0.0, 1000.0)))
    assert proposals("no number", "kg", "mass", within(0.0, 1e9)) == ()
    assert proposals("1,850", "kg", "mass", within(0.0, 1e9)) == ()  # in doubt by itself


@pytest.mark.parametrize(
    ("typed", "unit", "kind", "possible", "meant"),
    [
        ("7.0", "psi", "pressure", within(500_000, 650_000), "70 psi"),
        ("70", "bar", "pressure", within(500_000, 650_000), "70 psi"),
        ("14.7", "psi", "pressure", within(95_000, 110_000), "14.7 psi absolute"),
        ("68", "C", "temperature", within(290, 296), "68 F"),
        ("200", "C", "temperature", within(290, 296), "20.0 C"),
        ("5", "C", "temperature", within(265, 270), "-5 C"),
        ("850", "L", "volume", within(0.0005, 0.005), "850 mL"),
        ("26.2", "L", "water capacity", within(0.0115, 0.0125), "26.2 lb"),
        ("120", "L", "water capacity", within(0.0115, 0.0125), "12.0 L"),
        ("15", "h", "duration", within(600, 1200), "15 min"),
    ],
)
def test_other_quantities_too(typed: str, unit: str, kind: str, possible: Check, meant: str) -> None:
    assert texts(proposals(typed, unit, kind, possible))[:1] == [meant]


class TwoForm(forms.Form):
    gross = MassField(label="Gross", what="gross mass")
    pressure = PressureField(label="Pressure", default_unit="psi", known={"atmosphere_pa": 101_325.0}, required=False)


def bound(**sent: str) -> Any:
    form = TwoForm(MultiValueDict({name: [value] for name, value in sent.items()}))
    form.is_valid()
    return form


def test_a_refusal_keeps_what_was_typed_and_offers_the_slip() -> None:
    form = bound(gross="83.55", gross_unit="kg")
    refuse(form, "gross", "83.55 kg cannot be in it.", possible=within(7.2, 19.9))
    assert [(one.text, one.words) for one in form["gross"].doubts] == [("8.355 kg", "8.355 kg?")]
    page = form["gross"].as_widget()
    assert 'value="83.55"' in page


def test_a_question_is_not_asked_again_once_insisted_on() -> None:
    form = bound(gross="9.5", gross_unit="kg")
    assert ask(form, "gross", "9.5 kg is much.", likely=within(0.3, 1.5))
    assert [one.text for one in form["gross"].doubts] == ["0.95 kg", "=9.5 kg"]
    sure = bound(gross="9.5", gross_unit="kg", gross_reading="=9.5 kg")
    assert not ask(sure, "gross", "9.5 kg is much.", likely=within(0.3, 1.5))
    assert sure.is_valid()


def test_the_atmosphere_of_the_workshop_is_that_of_the_proposals() -> None:
    form = bound(gross="1", pressure="700")
    refuse(form, "pressure", "Too much.", possible=within(580_000, 600_000))
    assert [one.text for one in form["pressure"].doubts] == ["70.0 psi"]
