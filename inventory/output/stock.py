"""What papers and labels are printed on: sheets and label stocks by their plain dimensions. Pure.

Units: millimetres. A stock of no height is continuous: its labels are as long as what stands on them.
"""

from dataclasses import dataclass

INCH_MM = 25.4


@dataclass(frozen=True)
class Stock:
    """One size: what it is called, and how wide and high it is; `height_mm` None for a continuous one."""

    words: str
    width_mm: float
    height_mm: float | None


A4, LETTER, ON_SHEET = "A4", "letter", "sheet"
SHEETS = {
    A4: Stock("A4", 210, 297),
    LETTER: Stock("US Letter", 8.5 * INCH_MM, 11 * INCH_MM),
}
LABELS = {
    "100x70": Stock("100 x 70 mm", 100, 70),
    "100x50": Stock("100 x 50 mm", 100, 50),
    "62": Stock("62 mm wide, continuous", 62, None),
    "4x6in": Stock("4 x 6 in", 4 * INCH_MM, 6 * INCH_MM),
}
STOCKS = {**SHEETS, **LABELS}

SHEET_CHOICES = [(name, one.words) for name, one in SHEETS.items()]
LABEL_CHOICES = [(ON_SHEET, "a sheet of paper, to be cut"), *((name, one.words) for name, one in LABELS.items())]
