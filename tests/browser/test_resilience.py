"""A server killed in the middle of a sending: what was typed stays, and a second press cannot count twice."""

from collections.abc import Callable

from playwright.sync_api import Page

from .conftest import HOME, Server, press
from .test_journeys import choose, entries, settles


def test_a_server_killed_before_it_answers_leaves_the_figures_and_one_line(
    visitor: Callable[..., Page], server: Server
) -> None:
    """The sending reaches the server, which dies before the browser has its answer."""
    page = visitor(server, width=360)
    before = entries(server)
    page.goto(f"{server.address}{HOME}cylinders/25/weigh/")
    page.fill("[name=gross]", "15.870")
    choose(page, "scale", "2")
    page.wait_for_load_state("networkidle")

    def written_then_killed(route: object) -> None:
        route.fetch(max_redirects=0)  # type: ignore[attr-defined]
        server.kill()
        route.abort()  # type: ignore[attr-defined]

    def only_sendings(route: object) -> None:
        if route.request.method == "POST":  # type: ignore[attr-defined]
            written_then_killed(route)
        else:
            route.continue_()  # type: ignore[attr-defined]

    page.route("**/weigh/", only_sendings)
    page.locator("main form.form button.main").click()
    page.get_by_text("Kept on this phone, not sent yet.").wait_for()
    page.get_by_role("button", name="Open it to change").click()
    assert page.input_value("[name=gross]") == "15.870"
    page.unroute("**/weigh/")
    server.start()
    for _ in range(5):  # what was sent is said on one page, and gone from the next
        page.goto(f"{server.address}{HOME}")
        page.wait_for_load_state("networkidle")
        if page.locator("#waiting").is_hidden():
            break
    settles(server, before + 1)
    assert page.locator("#waiting").is_hidden()


def test_a_paper_that_was_left_while_it_was_written_is_issued_anew_from_a_fresh_page(
    visitor: Callable[..., Page], server: Server
) -> None:
    """The first sending writes its paper and is never answered: the person has gone on to another page."""
    page = visitor(server, width=360)
    before = entries(server)
    page.goto(f"{server.address}{HOME}cylinders/25/")
    page.get_by_role("link", name="Issue the cylinder log").first.click()
    issuing = page.url

    def written_unanswered(route: object) -> None:
        if route.request.method == "POST":  # type: ignore[attr-defined]
            route.fetch(max_redirects=0)  # type: ignore[attr-defined]
            route.abort()  # type: ignore[attr-defined]
        else:
            route.continue_()  # type: ignore[attr-defined]

    page.route(issuing, written_unanswered)
    page.locator("main form.form button.main").click()
    page.get_by_text("Not known to be written").wait_for()
    page.goto(f"{server.address}{HOME}cylinders/25/")
    page.unroute(issuing)
    settles(server, before + 1)
    page.goto(issuing)
    press(page, "Issue it")
    assert "Already issued" not in page.inner_text("body")
    settles(server, before + 2)
