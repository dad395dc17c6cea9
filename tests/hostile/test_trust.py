"""The list of trust names places that there are."""

import re
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
NAMED = re.compile(r"`((?:\.ci|shop|inventory|compliance|tests|templates)/[\w./-]+|requirements\.lock)`")


def test_every_place_that_the_list_names_is_there() -> None:
    named = set(NAMED.findall((ROOT / "shop/pages/TRUST.md").read_text()))
    assert len(named) >= 25
    assert {one for one in named if not (ROOT / one).exists()} == set()
