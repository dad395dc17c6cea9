"""What a gross reading is refused for, what is asked about, and how many slips of the hand are met by either."""

import random
from collections import Counter
from collections.abc import Callable
from decimal import Decimal
from typing import Any

import pytest
from django import forms
from django.utils.datastructures import MultiValueDict

from inventory.acts import onscale
from inventory.book.weighing import Gross
from inventory.gases import catalogue, fluids
from inventory.measure.displays import Step
from inventory.measure.masses import read_mass
from inventory.measure.slips import _moved, _swapped
from inventory.measure.typed import QuantityError
from inventory.pages.fields.quantity import MassField
from inventory.pages.forms.weighing import reading_of
from inventory.shelf.plausible import COLDEST_K, DENSEST_KG_M3, MOST_LEG_MG, Expected, liquid_kg_m3

pytestmark = pytest.mark.django_db
KG = 1_000_000


class GrossForm(forms.Form):
    gross = MassField(label="Gross", what="gross mass")


def read(cylinder: Any, scale: Any, typed: str, unit: str = "kg", expected: Expected | None = None, **sent: str) -> Any:
    """Return the form after its reading was judged, with the reading as ``taken``."""
    values = {"gross": typed, "gross_unit": unit, **sent}
    form: Any = GrossForm(MultiValueDict({name: [value] for name, value in values.items()}))
    form.is_valid()
    form.taken = reading_of(form, "gross", cylinder, scale, expected or Expected())
    return form


def said(form: Any) -> str:
    return " ".join(form.errors.get("gross", [])).replace("\N{NARROW NO-BREAK SPACE}", " ")


def buttons(form: Any) -> list[str]:
    return [choice.words for choice in form["gross"].doubts]


@pytest.fixture
def weighed(cylinder: Any, scale: Any, book: Any, act: Callable[..., Any]) -> Any:
    """A cylinder of 12 L and 6.2 kg empty, last weighed with 5 kg of R-134a in it."""
    onscale.weigh(book, act(), Gross(cylinder, scale, 11_200_000, "11.2 kg"))
    return cylinder


def test_past_liquid_full_cannot_be_and_the_slip_is_proposed(make_cylinder: Callable[..., Any], scale: Any) -> None:
    cylinder = make_cylinder(tare_mg=7_200_000)  # 12 L, nothing known of its content
    form = read(cylinder, scale, "83.55")
    assert form.taken is None
    assert said(form).startswith("83.55 kg gross is 76.350 kg net, and full of R-134a, liquid at −40 °C, it holds 17.8")
    assert buttons(form) == ["8.355 kg?"]
    assert 'value="83.55"' in form["gross"].as_widget()
    assert read(cylinder, scale, "83.55", gross_reading="=83.55 kg").taken is None  # not to be insisted on
    assert read(cylinder, scale, "83.55", gross_reading="8.355 kg").taken.gross_mg == 8_355_000


def test_over_the_limit_is_a_fact_that_may_be_insisted_on(weighed: Any, scale: Any) -> None:
    """16 kg in 12 L: above 12.6 kg, the most that any rule here allows, and below full of cold liquid."""
    form = read(weighed, scale, "22.2")
    assert "far more than it may hold" in said(form)
    assert buttons(form)[-1] == "It does read 22.2 kg"
    assert read(weighed, scale, "22.2", gross_reading="=22.2 kg").taken.gross_mg == 22_200_000


def test_below_the_empty_mass_cannot_be(weighed: Any, scale: Any) -> None:
    form = read(weighed, scale, "1.12")
    assert "less than the empty mass" in said(form)
    assert buttons(form) == ["11.2 kg?"]


def test_past_what_the_scale_carries_cannot_be(weighed: Any, make_scale: Callable[..., Any]) -> None:
    form = read(weighed, make_scale("S9", capacity_mg=50 * KG), "112")
    assert "more than S9 carries (50.000 kg)" in said(form)
    assert buttons(form) == ["11.2 kg?"]


def test_two_digits_exchanged_are_asked_about_where_the_book_says_which(weighed: Any, scale: Any) -> None:
    form = read(weighed, scale, "11.020")
    assert said(form) == "That is 180 g less than the book has. Was it 11.200 kg?"
    assert buttons(form) == ["11.200 kg?", "It does read 11.020 kg"]


@pytest.mark.parametrize("gross", ["11.200", "11.195", "11.210", "10.650", "11.050", "12.315"])
def test_what_honest_scales_read_is_taken_without_a_question(weighed: Any, scale: Any, gross: str) -> None:
    """The same again, a flicker, a loss, charges that were not written down, and a recovery that was not."""
    assert read(weighed, scale, gross).taken is not None


def test_the_empty_mass_itself_is_compared_with_the_one_before_it(weighed: Any, scale: Any) -> None:
    expected = Expected(is_tare=True)
    assert read(weighed, scale, "6.150", expected=expected).taken is not None
    form = read(weighed, scale, "61.5", expected=expected)
    assert "far from the empty mass that stands in the book" in said(form)
    assert "6.15 kg?" in buttons(form)


def test_a_leg_is_compared_with_what_it_was_for(weighed: Any, scale: Any) -> None:
    before = Gross(weighed, scale, 11_200_000, "11.2 kg")
    expected = Expected(first=before, gains=False, most_mg=MOST_LEG_MG, about_mg=850_000)
    assert read(weighed, scale, "10.350", expected=expected).taken is not None
    assert read(weighed, scale, "10.600", expected=expected).taken is not None  # a part of it: no slip leads there
    form = read(weighed, scale, "13.050", expected=expected)
    assert said(form) == "By this 1850 g moved, where 850 g was meant. Was it 10.350 kg?"


def test_a_paper_says_what_a_new_cylinder_holds(make_cylinder: Callable[..., Any], scale: Any) -> None:
    cylinder = make_cylinder()
    form = read(cylinder, scale, "16.91", expected=Expected(net_mg=10 * KG))
    assert said(form) == "That is 710 g more than the paper says. Was it 16.19 kg?"
    assert read(cylinder, scale, "16.190", expected=Expected(net_mg=10 * KG)).taken is not None


def test_a_reading_in_pounds_is_judged_in_pounds(weighed: Any, make_scale: Callable[..., Any]) -> None:
    ounces = make_scale("S3", step_mg=14_175, step_number="0.5", step_unit="lb oz")
    near = ounces.step.text(ounces.step.count(11_200_000))
    assert near == "24 lb 11.0 oz"
    assert read(weighed, ounces, near).taken.gross_mg == ounces.step.mg_of(790)
    assert read(weighed, ounces, "24.69", "lb").taken.gross_mg == ounces.step.mg_of(790)
    assert read(weighed, ounces, "11.198").taken.gross_mg == ounces.step.mg_of(790)
    form = read(weighed, ounces, "24 lb 11.2 oz")
    assert said(form).startswith("24 lb 11.2 oz lies between the steps of S3 (0.5 oz).")
    assert buttons(form) == ["24 lb 11.0 oz", "24 lb 11.5 oz", "It does read 24 lb 11.2 oz"]
    form = read(weighed, ounces, "11.2")
    assert "coarser than S3 shows (steps of 0.5 oz)" in said(form)
    assert buttons(form)[:2] == ["24 lb 11.0 oz", "24 lb 11.5 oz"]


def test_nothing_that_a_cylinder_may_hold_is_denser_than_the_densest() -> None:
    """R-13I1 is a part of blends and stands in no cylinder of this trade by itself."""
    dense = {}
    for one in catalogue.refrigerants():
        try:
            dense[one.code] = fluids.liquid_density_kg_m3(one.code, COLDEST_K)
        except fluids.FluidError:
            assert liquid_kg_m3(one.code) == DENSEST_KG_M3
    assert len(dense) > 40
    assert max(value for code, value in dense.items() if code != "R-13I1") <= DENSEST_KG_M3


# How many slips are met


SCALES = (("5", "g"), ("2", "g"), ("0.02", "lb"), ("0.5", "oz"), ("0.5", "lb oz"), ("0.1", "lb"))
WRONG_UNIT = {"kg": "lb", "lb": "kg", "oz": "g"}


def slipped(rng: random.Random, text: str, kind: str) -> str | None:
    """Return a display as it is typed with one slip; None where there is none to make."""
    number, unit = text.rsplit(" ", 1)
    if " lb " in text:
        pounds, ounces = text.removesuffix(" oz").split(" lb ")
        if kind == "unit":
            return f"{pounds} kg"
        found = list(_moved(pounds, 1)) + list(_moved(ounces, 1)) if kind == "decimal" else list(_swapped(ounces))
        one = rng.choice(found) if found else None
        return one and (f"{pounds} lb {one} oz" if kind == "digits" else f"{one} lb {ounces} oz")
    if kind == "unit":
        return f"{number} {WRONG_UNIT[unit]}"
    moved = [one for places in (1, 1, 1, 2, 3) for one in _moved(number, places)]
    found = moved if kind == "decimal" else list(_swapped(number))
    return f"{rng.choice(found)} {unit}" if found else None


def _same(typed: str, text: str) -> bool:
    """Whether a slip changed nothing; one that cannot be read at all is met by the field itself."""
    try:
        return read_mass(typed).mg == read_mass(text).mg
    except QuantityError:
        return False


@pytest.fixture
def floor(make_cylinder: Callable[..., Any], make_scale: Callable[..., Any], book: Any, act: Callable[..., Any]) -> Any:
    """Make a weighed cylinder of random size and content on a scale of a random kind, as a function of a generator."""
    scales = [
        make_scale(f"T{n}", round(Step(Decimal(number), unit).mg), step_number=number, step_unit=unit)
        for n, (number, unit) in enumerate(SCALES)
    ]

    def make(rng: random.Random) -> tuple[Any, Any, int]:
        litres = rng.choice((12.0, 13.6, 27.2, 61.0))
        tare_mg, net_mg = round(rng.uniform(0.45, 0.65) * litres * KG), round(rng.uniform(0.1, 0.9) * litres * KG)
        scale = rng.choice(scales)
        cylinder = make_cylinder(tare_mg=tare_mg, water_capacity_m3=litres / 1000, mass_mg=net_mg)
        gross_mg = scale.step.mg_of(scale.step.count(tare_mg + net_mg))
        onscale.weigh(book, act(), Gross(cylinder, scale, gross_mg, "typed"))
        return cylinder, scale, gross_mg

    return make


def test_most_slips_at_the_scale_are_refused_or_asked_about(floor: Any) -> None:
    """Honest readings of 60 random cylinders, as they stand and after a charge, each hit by one slip of each kind.

    Measured with this seed: as they stand, a decimal place 60 of 60, digits 58 of 58, a wrong unit 60 of 60; after a
    charge of a known label, a decimal place 58 of 60, digits 43 of 58 (the others lie within what a leg may well
    move), a wrong unit 58 of 60: 337 of 356 in all, 95 per cent. None of the 120 readings without a slip was asked
    about. Asserted are bounds a little below.
    """
    rng = random.Random(20261127)
    met: Counter[str] = Counter()
    tried: Counter[str] = Counter()
    for _ in range(60):
        cylinder, scale, gross_mg = floor(rng)
        charge_mg = round(rng.uniform(0.3, 1.1) * KG)
        before = Gross(cylinder, scale, gross_mg, "typed")
        leg = Expected(before, gains=False, most_mg=MOST_LEG_MG, about_mg=round(charge_mg * rng.uniform(0.9, 1.1)))
        for name, true_mg, expected in (("standing", gross_mg, Expected()), ("leg", gross_mg - charge_mg, leg)):
            text = scale.step.text(scale.step.count(true_mg) + rng.choice((-1, 0, 0, 1)))
            tried[f"{name}, honest"] += 1
            met[f"{name}, honest"] += read(cylinder, scale, text, expected=expected).taken is None
            for kind in ("decimal", "digits", "unit"):
                typed = slipped(rng, text, kind)
                if typed is None or _same(typed, text):
                    continue
                tried[f"{name}, {kind}"] += 1
                met[f"{name}, {kind}"] += read(cylinder, scale, typed, expected=expected).taken is None
    printed = {name: f"{met[name]} of {tried[name]}" for name in sorted(tried)}
    print(printed)  # noqa: T201 - the measured rates, for whoever runs it with -s
    rate = {name: met[name] / tried[name] for name in tried}
    assert min(rate["standing, decimal"], rate["standing, digits"], rate["standing, unit"]) >= 0.98, printed
    assert min(rate["leg, decimal"], rate["leg, unit"]) >= 0.95, printed
    assert rate["leg, digits"] >= 0.70, printed
    assert met["standing, honest"] + met["leg, honest"] <= 2, printed
