"""The contrast of every pair of tokens, computed from the stylesheet by the relative luminance of WCAG 2.2."""

import re
from pathlib import Path

import pytest

SHOP = Path(__file__).resolve().parents[3] / "shop" / "static" / "shop"
CSS = (SHOP / "book.css").read_text()
TOKENS = {
    name: (light, dark)
    for name, light, dark in re.findall(r"--(\w+): light-dark\((#[0-9a-f]{6}), (#[0-9a-f]{6})\)", CSS)
}
GROUNDS = ("paper", "sheet", "sunk", "mark", "band")
PAIRS = [(text, ground, 4.5) for text in ("ink", "soft", "act", "wine") for ground in GROUNDS]
PAIRS += [("edge", ground, 3.0) for ground in GROUNDS]
PAIRS += [("acton", "act", 4.5)]


def luminance(colour: str) -> float:
    parts = [int(colour[place : place + 2], 16) / 255 for place in (1, 3, 5)]
    red, green, blue = (part / 12.92 if part <= 0.04045 else ((part + 0.055) / 1.055) ** 2.4 for part in parts)
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def contrast(one: str, other: str) -> float:
    low, high = sorted((luminance(one), luminance(other)))
    return (high + 0.05) / (low + 0.05)


def test_the_formula_gives_the_values_that_wcag_names():
    """WCAG 2.2, definition of contrast ratio: from 1:1 to 21:1."""
    assert contrast("#000000", "#ffffff") == pytest.approx(21.0)
    assert contrast("#8c2f57", "#8c2f57") == pytest.approx(1.0)


@pytest.mark.parametrize(("text", "ground", "least"), PAIRS)
@pytest.mark.parametrize("palette", [0, 1], ids=["light", "dark"])
def test_each_pair_of_tokens_can_be_told_apart(text: str, ground: str, least: float, palette: int):
    assert contrast(TOKENS[text][palette], TOKENS[ground][palette]) >= least


def test_every_colour_stands_in_a_token():
    outside = re.sub(r"@layer tokens \{.*?\n\}", "", CSS, flags=re.DOTALL)
    screen = re.sub(r"@layer print \{.*", "", outside, flags=re.DOTALL)
    assert re.findall(r"#[0-9a-fA-F]{3,8}\b(?![^{]*\{)", screen) == []


def test_stylesheet_and_script_stay_small():
    assert len(CSS.encode()) < 25_000
    assert len((SHOP / "book.js").read_bytes()) < 6_000
    assert all(len((SHOP / part).read_bytes()) < 2_500 for part in ("photos.js", "scale.js"))
    parts = [part for part in SHOP.rglob("*.js") if part.name != "book.js"]
    assert max(len(part.read_bytes()) for part in parts) < 8_000


def test_no_template_carries_style_or_script_of_its_own():
    templates = SHOP.parents[2] / "templates"
    pages = {path.name: path.read_text() for path in templates.rglob("*.html")}
    assert [
        name for name, text in pages.items() if re.search(r"\sstyle=|<style", text) and "documents" not in name
    ] == []
    assert [name for name, text in pages.items() if re.search(r"\son[a-z]+=|hx-on|<script(?![^>]*\bsrc=)", text)] == []
