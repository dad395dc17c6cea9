"""The net goes away and comes back: what was pressed is kept in the open, sent in order, each once, by its person."""

import re
from collections.abc import Callable
from typing import Any

import pytest
from playwright.sync_api import Page

from .conftest import HOME, Server, lines_of, next_page, sign_in, until
from .test_journeys import choose, entries, send, settles

KEPT = "Kept on this phone, not sent yet."
Visitor = Callable[..., Page]


def start_visit(page: Page, server: Server, plate: str = "NET 1") -> str:
    """Start a visit and return its address."""
    page.goto(f"{server.address}{HOME}visits/new/")
    page.fill("[name=registration]", plate)
    choose(page, "state", "runs")
    send(page)
    assert re.search(r"/visits/\d+/$", page.url), page.inner_text("main")
    return page.url


def press_step(page: Page, address: str, **typed: str) -> None:
    """Open a step's form, fill it and press, with the net away."""
    page.goto(address)
    for name, text in typed.items():
        page.fill(f"[name={name}]", text)
    page.locator("main form.form button.main").click()
    page.get_by_text(KEPT).wait_for()


def steps_of(server: Server) -> list[Any]:
    return [kind for (kind,) in lines_of(server, "SELECT kind FROM shop_step ORDER BY id DESC LIMIT 3")][::-1]


def opened(page: Page, *addresses: str) -> None:
    """Open pages with the net, once the worker keeps what is opened."""
    until(page, "!navigator.serviceWorker || Boolean(navigator.serviceWorker.controller)")
    for address in addresses:
        page.goto(address)
        page.wait_for_load_state("networkidle")


def test_three_entries_without_net_are_sent_in_order_once_with_the_time_of_pressing(
    visitor: Visitor, server: Server
) -> None:
    page = visitor(server, width=360, worker=True)
    visit = start_visit(page, server)
    opened(page, visit, *(f"{visit}add/{one}/" for one in ("circuit-opened", "repair")))
    page.context.set_offline(True)
    page.goto(visit)
    assert "the net is away" in page.inner_text(".kept-from")
    press_step(page, f"{visit}add/circuit-opened/", what="suction hose")
    press_step(page, f"{visit}?step=repair", joint="condenser", what="a new ring")
    press_step(page, f"{visit}add/circuit-opened/", what="discharge hose")  # the same page again: another entry
    page.goto(f"{server.address}{HOME}cylinders/")
    assert page.inner_text("h1") == "The net is away"
    page.get_by_text("Not sent yet (3)").click()
    assert "suction hose" in page.inner_text("#waiting")
    pressed = page.locator("#waiting time").all_text_contents()
    page.wait_for_timeout(1500)
    page.context.set_offline(False)
    page.get_by_text("3 sent and written").first.wait_for()
    page.goto(visit)
    page.reload()
    assert steps_of(server) == ["circuit opened", "repair", "circuit opened"]
    shown = page.locator(".visit-log time").all_text_contents()[-3:]
    assert [one.split()[-1] for one in shown] == [one.split()[-1] for one in pressed]
    assert page.locator("#waiting").is_hidden()


def cut_after(page: Page, address: str) -> None:
    """Let a sending reach the server and be written, and lose its answer."""

    def lost(route: Any) -> None:
        if route.request.method == "POST":
            route.fetch(max_redirects=0)
            route.abort()
        else:
            route.continue_()

    page.route(address, lost)


def test_an_answer_that_was_lost_is_asked_for_again_and_counts_once(visitor: Visitor, server: Server) -> None:
    page = visitor(server, width=360)
    before = entries(server)
    page.goto(f"{server.address}{HOME}cylinders/25/weigh/")
    page.fill("[name=gross]", "15.870")
    choose(page, "scale", "2")
    page.wait_for_load_state("networkidle")
    cut_after(page, "**/weigh/")
    page.locator("main form.form button.main").click()
    page.get_by_text(KEPT).wait_for()
    settles(server, before + 1)
    page.unroute("**/weigh/")
    other = page.context.new_page()  # another window is at it, and ends without having sent this one
    other.goto(f"{server.address}/static/shop/offline/queue.js")
    other.evaluate("navigator.locks.request('tarebook sending', () => new Promise((give) => (window.end = give))) && 1")
    page.goto(f"{server.address}{HOME}")
    page.get_by_text("It is being sent from another window").wait_for(state="attached")
    other.evaluate("window.end()")
    page.get_by_text("1 sent and written").first.wait_for()
    settles(server, before + 1)


def test_what_the_server_asks_back_stops_the_queue_and_is_put_right_beside_its_field(
    visitor: Visitor, server: Server
) -> None:
    """Two phones at one cylinder: while one was away, the other has written the reading before."""
    away, there = visitor(server, width=360, worker=True), visitor(server, name="technician")
    before = entries(server)
    visit = start_visit(away, server)
    opened(away, f"{server.address}{HOME}cylinders/25/weigh/", f"{visit}add/repair/")
    away.context.set_offline(True)
    away.goto(f"{server.address}{HOME}cylinders/25/weigh/")
    away.fill("[name=gross]", "15.870")
    choose(away, "scale", "2")
    away.locator("main form.form button.main").click()
    away.get_by_text(KEPT).wait_for()
    press_step(away, f"{visit}add/repair/", joint="condenser", what="a new ring")
    there.goto(f"{server.address}{HOME}cylinders/25/weigh/")
    there.fill("[name=gross]", "15.870")
    choose(there, "scale", "2")
    send(there)
    settles(server, before + 1)
    away.context.set_offline(False)
    away.get_by_text("Say where the gas went").wait_for()
    assert "Not sent yet (2)" in away.inner_text("#waiting")
    away.get_by_role("button", name="Look at it").click()
    assert away.input_value("[name=gross]") == "15.870"
    assert "Say where the gas went" in away.inner_text("#put-right")
    choose(away, "went", "nothing")
    press_and_read_back(away)
    assert "was weighed later than that already" in away.inner_text("#put-right")  # what the book cannot take stays so
    away.locator("main details > summary", has_text="When").click()
    away.fill("[name=occurred_at]", "")  # it is read again, now
    press_and_read_back(away)
    away.get_by_text("1 sent and written").first.wait_for()
    settles(server, before + 2)
    assert away.locator("#waiting details").count() == 0


def press_and_read_back(page: Page) -> None:
    """Press the main button, and that of the page that reads back, while entries wait to be sent."""
    for _ in range(2):
        with next_page(page):
            page.locator("main form.form button.main").click()
        if page.locator("#put-right").count():
            return


def test_an_entry_is_opened_changed_and_dropped_without_net(visitor: Visitor, server: Server) -> None:
    page = visitor(server, width=360, worker=True)
    visit = start_visit(page, server)
    opened(page, f"{visit}add/circuit-opened/")
    page.context.set_offline(True)
    press_step(page, f"{visit}add/circuit-opened/", what="suction hose")
    page.get_by_role("button", name="Open it to change").last.click()
    assert page.input_value("[name=what]") == "suction hose"
    page.fill("[name=what]", "discharge hose")
    page.locator("main form.form button.main").click()
    page.get_by_text(KEPT).wait_for()
    page.get_by_text("Not sent yet (1)").click()
    assert "discharge hose" in page.inner_text("#waiting")
    page.get_by_role("button", name="Drop it").click()
    page.get_by_role("button", name="Drop it for good").click()
    until(page, "document.querySelector('#waiting').hidden")


def test_another_person_neither_sends_nor_reads_what_waits_and_signing_out_takes_the_pages(
    visitor: Visitor, server: Server
) -> None:
    page = visitor(server, width=360, name="technician", worker=True)
    visit = start_visit(page, server)
    opened(page, f"{visit}add/circuit-opened/")
    page.context.set_offline(True)
    press_step(page, f"{visit}add/circuit-opened/", what="suction hose")
    session = page.context.cookies()
    page.context.clear_cookies()  # as when a session ends
    page.context.set_offline(False)
    page.get_by_text("You are signed out. Nothing is lost").wait_for(state="attached")
    sign_in(page, server, "owner")
    page.get_by_text("Not sent yet (1), kept on this phone of").wait_for()
    assert "suction hose" not in page.content()
    assert steps_of(server)[-1] == "received"
    page.context.set_offline(True)
    page.goto(f"{visit}add/circuit-opened/")
    assert page.inner_text("h1") == "The net is away"  # the pages of the person before are gone
    page.context.set_offline(False)
    page.goto(f"{server.address}{HOME}weigh/")
    page.wait_for_load_state("networkidle")
    assert kept_pages(page)
    page.goto(f"{server.address}/sign-out/")
    page.get_by_role("button", name="Sign out").click()
    page.get_by_role("heading", name="Signed out").wait_for()
    assert kept_pages(page) == []
    page.context.add_cookies(session)  # type: ignore[arg-type] # the technician again
    page.goto(f"{server.address}{HOME}")
    page.get_by_text("1 sent and written").first.wait_for()
    assert steps_of(server)[-1] == "circuit opened"


def kept_pages(page: Page) -> list[str]:
    found: list[str] = page.evaluate("caches.keys().then((names) => names.filter((name) => name.startsWith('pages ')))")
    return found


@pytest.mark.parametrize("address", ["/people/", "/settings/", "/customers/", "/statements/", "/documents/"])
def test_no_record_of_a_person_document_or_setting_is_kept(visitor: Visitor, server: Server, address: str) -> None:
    page = visitor(server, worker=True)
    opened(page, f"{server.address}{HOME.rstrip('/')}{address}")
    kept = page.evaluate(
        "caches.keys().then((names) => Promise.all(names.map((name) => caches.open(name).then((one) => one.keys()))))"
        ".then((all) => all.flat().map((request) => new URL(request.url).pathname))"
    )
    assert kept
    assert [one for one in kept if not one.startswith("/static/") and one != "/net-away/"] == []
