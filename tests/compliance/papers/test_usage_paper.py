"""The usage report on paper: a small year on three pages of either sheet, substance first, nothing of it lost."""

import io
from dataclasses import replace
from datetime import date
from typing import Any

import pytest
from pypdf import PdfReader

from compliance.papers import sheet
from compliance.papers.paper import Paper, Picture, Table
from compliance.papers.usage import usage_report
from tests.compliance.builders import port_ellery_2025
from tests.compliance.onpaper import all_said, missing_on_the_sheet
from tests.compliance.sample import CODE, STAMP

pytestmark = pytest.mark.django_db
PERIOD, TODAY = "period:2025-01-01:2025-12-31", date(2026, 3, 4)


@pytest.fixture
def paper(book: Any, workshop: Any, clock: Any) -> Paper:
    port_ellery_2025(book, clock)
    return usage_report(workshop, PERIOD, today=TODAY)


@pytest.mark.parametrize("size", ["A4", "letter"])
def test_a_small_year_stands_on_three_pages(paper: Paper, size: str) -> None:
    paper = replace(paper, size=size)
    assert sheet.printed(paper, STAMP, CODE).pages <= 3
    assert missing_on_the_sheet(paper) == []


def test_the_balance_leads_and_the_digest_comes_last(paper: Paper) -> None:
    pages = [page.extract_text() for page in PdfReader(io.BytesIO(sheet.as_pdf(paper, STAMP, CODE))).pages]
    assert "35.179" in pages[0]
    assert STAMP.short_digest not in pages[0]
    assert PERIOD not in pages[0]
    assert STAMP.short_digest in pages[-1]
    assert PERIOD in pages[-1]


def test_what_is_nothing_is_left_out_and_every_refrigerant_stays(paper: Paper) -> None:
    (balance, *_) = [block for block in paper.blocks if isinstance(block, Table)]
    assert balance.heads[1:] == ("R-12", "R-134a", "R-1234yf", "MIXED")
    labels = [row[0] for row in balance.rows]
    assert labels[0] == "At the start"
    assert labels[-2:] == ["At the end", "Of it on no weighing"]
    assert "Other changes" not in labels
    for row in balance.rows[1:-1]:
        assert set(row[1:]) - {"0.000", "none"}
    assert len([block for block in paper.blocks if isinstance(block, Picture)]) == 1  # three flow one way alone


def test_grades_bridge_and_what_stands_behind_are_still_said(paper: Paper) -> None:
    said = all_said(paper)
    for words in ("By grade, kg", "R-134a virgin", "From the balance by mass", "What stands behind the figures"):
        assert words in said
    assert "R-134a, charged" in said
    assert "of it R-134a, CO2e" in said
