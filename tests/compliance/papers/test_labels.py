"""Labels of cylinders: what the scale may show at most, marks in words, codes that are read from the sheet."""

import subprocess
from datetime import date
from itertools import pairwise
from pathlib import Path
from typing import Any

import pytest
import zxingcpp
from PIL import Image

from compliance.papers import sheet
from compliance.papers.labels import cylinder_labels
from compliance.papers.paper import Label
from inventory.models import Analysis, Cylinder
from tests.compliance.papers.desk import START, TODAY, Desk, G, labels_of, refused
from tests.compliance.sample import CODE, STAMP

pytestmark = pytest.mark.django_db


def test_a_label_says_what_the_scale_may_show_at_most_and_by_which_rule(desk: Desk, stock_of: Any) -> None:
    cylinder = stock_of("C-1", 1_000, requalify_by=date(2031, 5, 1))
    (label,) = [one for one in labels_of(desk, cylinder).blocks if isinstance(one, Label)]
    rows = {name: value.replace("\N{NARROW NO-BREAK SPACE}", " ") for name, value in label.rows}
    assert label.head == f"C-1 {cylinder.label}"
    assert rows["Scale at most"] == "18.800 kg, ADR/RID P200"  # 6.2 kg and 1.05 kg per litre of 12 L
    assert rows["Empty mass"] == "6.200 kg, stamped"
    assert rows["Refrigerant"] == "R-134a virgin, class A1"
    assert rows["Test date"] == "2031-05-01"
    assert label.marks == ()


def test_what_is_in_it_counts_and_not_what_it_was_meant_for(desk: Desk, stock_of: Any, post: Any) -> None:
    cylinder = stock_of("C-1", 1_000)
    Cylinder.objects.filter(pk=cylinder.pk).update(refrigerant="R-12", grade="recovered")
    assert labels_of(desk, cylinder).figures["cylinders"][0]["refrigerant"] == "R-134a"


def test_marks_stand_in_words(desk: Desk, stock_of: Any) -> None:
    mixed = stock_of("C-40", 465, refrigerant="MIXED", grade="suspect", kind="recovery", tare_mg=5_300 * G)
    single = stock_of("C-37", 3_000, refrigerant="R-1234yf", kind="single-trip")
    labels = [one for one in labels_of(desk, single, mixed).blocks if isinstance(one, Label)]
    assert labels[0].marks == ("FLAMMABLE", "SINGLE-TRIP: NEVER REFILL")
    assert dict(labels[0].rows)["Scale at most"] == "nothing: a single-trip container is never filled"
    assert labels[1].marks == ("FLAMMABLE", "SUSPECT")
    assert dict(labels[1].rows)["Scale at most"] == "no filling limit known"  # nothing was identified in it


def test_a_mixture_has_the_limit_of_its_strictest_part(desk: Desk, stock_of: Any) -> None:
    mixed = stock_of("C-40", 465, refrigerant="MIXED", grade="suspect", tare_mg=5_300 * G, water_capacity_m3=0.006)
    parts = {"R-1234yf": "0.92", "R-134a": "0.08"}
    Analysis.objects.create(account=mixed.account, occurred_at=START, parts=parts)
    assert labels_of(desk, mixed).figures["cylinders"][0]["limit_mg"] == 5_640 * G  # P200: 0.94 kg per litre


def test_a_label_past_its_test_date_says_so(desk: Desk, stock_of: Any) -> None:
    (label, *_) = labels_of(desk, stock_of("C-1", 1_000, requalify_by=date(2025, 12, 31))).blocks
    assert isinstance(label, Label)
    assert dict(label.rows)["Test date"] == "2025-12-31, gone by: takes nothing until it is tested"


def test_the_code_is_the_one_of_the_label_page(desk: Desk, stock_of: Any, owner_client: Any, settings: Any) -> None:
    cylinder = stock_of("C-1", 1_000)
    address = f"/w/port-ellery/cylinders/{cylinder.account.number}/label/"

    def codes(host: str) -> tuple[str, str]:
        label = labels_of(desk, cylinder).blocks[0]
        assert isinstance(label, Label)
        return label.code, owner_client.get(address, HTTP_HOST=host).context["text"]

    settings.ALLOWED_HOSTS = ["book.lan"]
    assert codes("book.lan") == (f"HTTP://BOOK.LAN/C/{cylinder.label}",) * 2
    settings.ADDRESS = "https://elsewhere.lan:8443"
    assert codes("book.lan") == (f"HTTPS://ELSEWHERE.LAN:8443/C/{cylinder.label}",) * 2


def test_without_an_address_there_are_no_labels(desk: Desk, make_cylinder: Any, settings: Any) -> None:
    settings.ALLOWED_HOSTS = [".lan"]
    assert "TAREBOOK_ADDRESS is not set" in refused(lambda: labels_of(desk, make_cylinder()))


def test_labels_come_in_the_order_asked_for_and_each_once(desk: Desk, stock_of: Any) -> None:
    one, two = stock_of("C-1", 1_000), stock_of("C-2", 1_000)
    assert [each["serial"] for each in labels_of(desk, two, one, two).figures["cylinders"]] == ["C-2", "C-1"]


@pytest.mark.parametrize("about", ["cylinders:", "cylinders:abc", "cylinders:1,,2", "cylinder:7", "cylinders:-3"])
def test_what_names_no_cylinders_gets_a_sentence(desk: Desk, about: str) -> None:
    assert refused(lambda: cylinder_labels(desk.workshop, about, today=TODAY)).endswith(".")


def test_a_label_rests_on_the_last_line_of_its_cylinder(desk: Desk, partner: Any) -> None:
    cylinder = desk.bottle(partner)
    last = desk.charge(cylinder, "V1", 17_186, 16_402)
    assert labels_of(desk, cylinder).lines == (last.seq,)


def test_labels_are_read_from_the_picture_of_their_sheet(desk: Desk, stock_of: Any, tmp_path: Path) -> None:
    cylinders = [stock_of(f"C-{place}", 1_000) for place in (1, 2)]
    paper = labels_of(desk, *cylinders)
    (tmp_path / "sheet.pdf").write_bytes(sheet.as_pdf(paper, STAMP, CODE))
    subprocess.run(["pdftoppm", "-r", "200", "-png", "sheet.pdf", "page"], cwd=tmp_path, check=True, timeout=60)
    pictures = [Image.open(found).convert("L") for found in sorted(tmp_path.glob("page*.png"))]
    found = {code.text for picture in pictures for code in zxingcpp.read_barcodes(picture)}
    assert found == {one.code for one in paper.blocks if isinstance(one, Label)}
    assert len(found) == 2


def test_on_a_sheet_the_frame_is_as_wide_as_a_label_and_two_stand_side_by_side(
    desk: Desk, stock_of: Any, tmp_path: Path
) -> None:
    paper = labels_of(desk, stock_of("C-1", 1_000), stock_of("C-2", 1_000))
    (tmp_path / "sheet.pdf").write_bytes(sheet.as_pdf(paper, STAMP, CODE))
    subprocess.run(["pdftoppm", "-r", "100", "-png", "sheet.pdf", "page"], cwd=tmp_path, check=True, timeout=60)
    page = Image.open(next(tmp_path.glob("page*.png"))).convert("L")
    mm = 100 / 25.4
    rows = ([x for x in range(page.width) if page.getpixel((x, y)) < 128] for y in range(page.height))
    edge = next(row for row in rows if len(row) > 150 * mm)  # the upper edges of both frames
    left, right = edge[0] / mm, edge[-1] / mm
    (gap,) = [(a / mm, b / mm) for a, b in pairwise(edge) if b - a > 2 * mm]
    assert gap[0] - left == pytest.approx(85, abs=1)
    assert right - gap[1] == pytest.approx(85, abs=1)
