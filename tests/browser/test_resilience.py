"""A server killed in the middle of a sending: what was typed stays, and a second press cannot count twice."""

from collections.abc import Callable

from playwright.sync_api import Page

from .conftest import HOME, Server
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
    page.get_by_text("Not known to be written").wait_for()
    assert page.input_value("[name=gross]") == "15.870"
    page.unroute("**/weigh/")
    server.start()
    for _ in range(2):
        page.locator("main form.form button.main").last.click()
        page.wait_for_timeout(2500)
    settles(server, before + 1)
