"""Photos in a step's form on a phone, with script and without: several, made smaller, and seen in the log."""

from collections.abc import Callable
from pathlib import Path

import pytest
from PIL import Image
from playwright.sync_api import Page

from tests.browser.conftest import HOME, Server, lines_of, press


@pytest.fixture
def taken(tmp_path: Path) -> list[Path]:
    """Return a camera picture of 12 million pixels and a small one."""
    large, small = tmp_path / "large.jpg", tmp_path / "small.jpg"
    Image.effect_noise((1_000, 750), 90).resize((4_000, 3_000)).convert("RGB").save(large, quality=97)
    Image.new("RGB", (600, 400), (30, 120, 160)).save(small)
    return [large, small]


@pytest.mark.parametrize("script", [True, False], ids=["script", "no script"])
def test_photos_are_taken_with_the_step_and_stand_beside_it(
    server: Server, visitor: Callable[..., Page], taken: list[Path], script: bool
) -> None:
    page = visitor(server, width=360, name="technician", script=script)
    page.goto(f"{server.address}{HOME}visits/new/")
    page.fill("[name=registration]", "PH 0710")
    page.get_by_label("hose off").check()
    camera = page.locator("input[name=photos]")
    if script:  # one after the other, as a phone's camera hands them over
        for one in taken:
            camera.set_input_files([one])
        page.get_by_text("2 photos to be sent").wait_for()
        size = "document.querySelector('[name=photos]').files[0].size"
        for _ in range(200):  # the page's policy lets nothing be waited for inside it
            if (sent_bytes := page.evaluate(size)) < 3_000_000:
                break
            page.wait_for_timeout(100)
        assert sent_bytes < 3_000_000
    else:
        camera.set_input_files(taken)
    press(page, "Start the visit")
    page.locator(".photos img").nth(1).wait_for()
    assert page.locator(".photos img").count() == 2
    assert page.evaluate("document.documentElement.scrollWidth") <= 360
    rows = lines_of(server, "select width, height, size from inventory_photo order by id desc limit 2")
    assert sorted(max(sides) for *sides, _ in rows) == [600, 2_048]
    assert all(size < 2_000_000 for *_, size in rows)


def test_what_an_answer_does_not_ask_for_is_not_seen_without_script(
    server: Server, visitor: Callable[..., Page]
) -> None:
    page = visitor(server, width=360, name="technician", script=False)
    page.goto(f"{server.address}{HOME}visits/new/")
    page.fill("[name=registration]", "PH 0711")
    page.get_by_label("runs").check()
    press(page, "Start the visit")
    page.goto(f"{page.url}add/identified/")
    shares = page.locator("[name=shares]")
    assert not shares.is_visible()
    page.get_by_label("used").check()
    assert shares.is_visible()
    page.get_by_label("none here").check()
    assert not shares.is_visible()
