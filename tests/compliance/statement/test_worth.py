"""What the acceptance year is worth in CO2 and in ozone depletion, on each basis and with its sources."""

from decimal import Decimal

import pytest

from compliance.statement import balance, emissions
from compliance.statement.figures import read_statement
from inventory.models import Analysis
from tests.compliance.builders import YEAR_2025, G

pytestmark = pytest.mark.django_db


# Grams times the published GWP, as the acceptance year prints them (kg CO2e).
@pytest.mark.parametrize(
    ("basis", "workshop_kg", "road_kg"),
    [
        ("AR4", "291.7", "180.2"),
        ("EU", "291.7", "180.2"),
        ("US", "291.7", "180.2"),
        ("AR5", "265.2", "163.8"),
        ("AR6", "312.1", "192.8"),
    ],
)
def test_the_emissions_of_the_acceptance_year_on_each_basis(book, year, basis, workshop_kg, road_kg):
    worth = read_statement(book, *YEAR_2025, basis).impacts["R-134a"].worth
    tenth = Decimal("0.1")
    assert (Decimal(worth[balance.WORKSHOP_AIR].co2e_mg) / 10**6).quantize(tenth) == Decimal(workshop_kg)
    assert (Decimal(worth[balance.ROAD_AIR].co2e_mg) / 10**6).quantize(tenth) == Decimal(road_kg)


def test_what_went_to_destruction_counts_on_both_scales(book, year):
    worth = read_statement(book, *YEAR_2025, "AR4").impacts["R-12"].worth[balance.SENT_AWAY]
    assert worth.odp_mg == 3_358 * G  # ODP 1.0
    assert round(worth.co2e_mg / 10**9, 1) == 36.6  # tonnes


def test_mixed_content_counts_by_its_analysis(book, year):
    # 465 g of 8.0 % R-134a and 91.5 % R-1234yf: 53.4 kg on the EU basis, of which 0.2 kg from R-1234yf.
    impact = read_statement(book, *YEAR_2025, "EU").impacts["MIXED"]
    assert round(impact.worth[emissions.CLOSING].co2e_mg / 10**6, 1) == 53.4
    assert impact.depletes_ozone is False


def test_mixed_content_without_an_analysis_is_said_and_not_counted(book, year):
    Analysis.objects.all().delete()
    report = read_statement(book, *YEAR_2025, "EU")
    closing = report.impacts["MIXED"].worth[emissions.CLOSING]
    assert (closing.co2e_mg, closing.odp_mg) == (None, None)
    assert "MIXED: composition not measured" in report.notes
    total = next(each for each in report.other_totals if each.measure == emissions.CLOSING)
    assert total.without_co2e == ("MIXED",)


def test_what_has_no_figure_is_a_sentence_and_what_is_nothing_is_nothing(book, year):
    impact = read_statement(book, *YEAR_2025, "EU").impacts["R-12"]
    assert impact.worth[balance.SENT_AWAY].co2e_mg is None
    assert impact.worth[balance.AIR].co2e_mg == 0
    assert any("R-12 has no GWP on basis EU" in note for note in impact.notes)


def test_every_figure_names_its_source(book, year):
    report = read_statement(book, *YEAR_2025, "AR4")
    found = {(each.refrigerant, each.quantity): each for each in report.sources}
    assert found["R-134a", "GWP, 100 years"].value == 1430
    assert found["R-12", "ODP"].text
    assert all(each.text for each in report.sources)
