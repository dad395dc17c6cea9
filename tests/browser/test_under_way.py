"""A hold under way on telephones whose own clocks are wrong: the server's time decides, and it is said once."""

from collections.abc import Callable
from datetime import UTC, datetime

from playwright.sync_api import Page, expect

from .conftest import HOME, Server, next_page, press, until
from .looking import faults

COUNT_SAYINGS = """() => {
  window.sayings = [];
  const said = document.getElementById("said");
  new MutationObserver(() => { if (said.textContent) window.sayings.push(said.textContent); })
    .observe(said, { childList: true, characterData: true, subtree: true });
}"""


# A screen that takes locks: a browser without windows has none, and refuses.
KEEP_LOCKS = """window.locks = [];
navigator.wakeLock.request = async () => {
  const lock = Object.assign(new EventTarget(), { released: false });
  lock.release = async () => { lock.released = true; lock.dispatchEvent(new Event("release")); };
  window.locks.push(lock);
  return lock;
};"""


def start_a_hold(page: Page, server: Server) -> str:
    """Start a visit and a hold of 15 minutes at it; return where it is under way."""
    page.goto(f"{server.address}{HOME}visits/new/")
    page.fill("[name=registration]", "KLM 4821")
    page.check("[name=state][value=runs]")
    with next_page(page):
        page.locator("main form.form button.main").click()
    with next_page(page):
        page.get_by_role("link", name="Pressure hold", exact=True).click()
    page.get_by_text("Dry nitrogen only").wait_for()
    assert faults(page, (360, 320)) == []
    page.fill("[name=pressure]", "10.3")
    page.fill("[name=planned]", "15")
    press(page, "Start the clock")
    return page.url


def left_s(page: Page) -> int:
    """Return what the page shows to be left, in seconds."""
    minutes, _, second, *_ = page.inner_text("main [data-left]").split()
    return int(minutes) * 60 + int(second)


def test_a_hold_runs_by_the_servers_clock_and_says_once_that_it_is_time(
    visitor: Callable[..., Page], server: Server
) -> None:
    phone, other = visitor(server, width=360), visitor(server, width=360, name="technician")
    phone.add_init_script(KEEP_LOCKS)
    phone.clock.install(time=datetime(2001, 1, 1, tzinfo=UTC))
    there = start_a_hold(phone, server)
    assert 840 < left_s(phone) <= 900
    assert "left: Pressure hold, KLM 4821" in phone.title()
    assert phone.get_by_text("The screen stays on while this page is looked at.").is_visible()
    assert faults(phone, (360, 320)) == []

    phone.evaluate("window.locks.at(-1).release()")  # as when the page goes out of sight
    awake = phone.evaluate("window.locks.length")
    phone.evaluate("document.dispatchEvent(new Event('visibilitychange'))")
    until(phone, f"window.locks.length === {awake + 1} && !window.locks.at(-1).released")

    phone.evaluate(COUNT_SAYINGS)
    phone.clock.run_for("10:00")
    assert 240 < left_s(phone) <= 300
    assert phone.evaluate("window.sayings") == []
    phone.clock.run_for("07:00")
    assert phone.inner_text("main [data-left]").startswith("It is time, ")
    assert phone.title().startswith("It is time, ")
    assert phone.get_by_text("Read the gauge once more, then finish it.").is_visible()
    assert phone.evaluate("window.sayings") == ["Pressure hold, KLM 4821: it is time. Read the gauge."]

    phone.reload()
    other.goto(there)
    assert 0 <= left_s(phone) - left_s(other) < 60
    other.fill("[name=pressure]", "10.2")
    press(other, "Enter this reading")
    other.goto(f"{there}length/")
    other.fill("[name=planned]", "1 s")
    press(other, "Keep this length")
    for page in (phone, other):
        page.goto(there)
        expect(page.locator("main [data-left]")).to_contain_text("It is time")
        assert page.locator("main ol.lines > li").count() == 2
        assert page.inner_text("#said") == ""  # the page says it itself

    phone.get_by_role("link", name="Finish the pressure hold").click()
    phone.locator("[name=readings_1_pressure]").wait_for()
    assert [phone.input_value(f"[name=readings_{row}_pressure]") for row in range(2)] == ["10.3", "10.2"]
    phone.check("[name=gas][value='dry nitrogen']")
    press(phone, "Write it in the log")
    assert "Pressure hold" in phone.inner_text("ol.visit-log")
    other.goto(there)
    assert "Finished: it stands in the log" in other.inner_text("main")


def test_without_script_the_page_says_where_the_clock_stands(visitor: Callable[..., Page], server: Server) -> None:
    page = visitor(server, width=360, script=False)
    page.goto(f"{server.address}{HOME}visits/new/")
    page.fill("[name=registration]", "KLM 4821")
    page.check("[name=state][value=runs]")
    page.locator("main form.form button.main").click()
    page.get_by_role("link", name="Evacuation", exact=True).click()
    page.get_by_role("button", name="Start the clock").click()
    assert 1_700 < left_s(page) <= 1_800
    page.get_by_role("link", name="Look again").click()
    assert 1_700 < left_s(page) <= 1_800
    page.goto(f"{server.address}{HOME}")
    page.get_by_role("link", name="Enter a reading of Evacuation, KLM 4821").click()
    page.get_by_role("link", name="Drop it").click()
    page.get_by_role("button", name="Drop it", exact=True).click()
    assert "Evacuation, KLM 4821: dropped." in page.inner_text("#page")
    assert page.locator("#under-way").count() == 0
