"""The figures of a document in words."""

from compliance.documents.shown import shown_figures
from inventory.measure.figures import NARROW


def test_the_figures_of_a_document_stand_as_the_work_went_and_co2_last_in_kilograms() -> None:
    """Kept content has its keys in the order of the alphabet; a CO2 equivalent is never said in pounds."""
    kept = {
        "air_road_co2e_mg": 9_000_000,
        "air_road_mg": 6_000,
        "charge_co2e_mg": 1_102_700_000,
        "in_give_or_take_mg": 4_000,
        "in_mg": 771_107,
        "opened_on": "2026-01-02",
        "out_mg": 453_592,
    }
    assert [(name, said.replace(NARROW, " ")) for name, said in shown_figures(kept, "lb")] == [
        ("Opened on", "2026-01-02"),
        ("Recovered", "1.000 lb"),
        ("Charged", "1.700 lb"),
        ("Charged, give or take", "0.009 lb"),
        ("Lost on the road", "0.013 lb"),
        ("Charged, CO2 equivalent", "1102.700 kg"),
        ("Lost on the road, CO2 equivalent", "9.000 kg"),
    ]
