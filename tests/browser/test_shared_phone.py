"""A phone that several people share: what one of them typed comes back to that person, and to nobody else."""

from collections.abc import Callable

from playwright.sync_api import Page

from .conftest import HOME, Server, press, sign_in


def test_what_was_typed_across_a_change_of_people_comes_back_to_its_person_alone(
    visitor: Callable[..., Page], server: Server
) -> None:
    """Another tab changes who is signed in; the form of the first is stale then."""
    page = visitor(server, width=360, name="technician")
    weigh = f"{server.address}{HOME}cylinders/25/weigh/"
    page.goto(weigh)
    page.fill("[name=gross]", "15.870")
    _change_to("owner", page.context.new_page(), server)
    press(page, page.inner_text("main form.form button.main"))
    page.get_by_role("heading", name="The form had gone stale").wait_for()
    page.get_by_role("link", name="Load the page again").click()
    page.wait_for_load_state("networkidle")
    assert page.input_value("[name=gross]") == ""
    _change_to("technician", page, server)
    page.goto(weigh)
    page.get_by_text("What you typed here is back").wait_for()
    assert page.input_value("[name=gross]") == "15.870"


def _change_to(name: str, page: Page, server: Server) -> None:
    page.goto(f"{server.address}{HOME}who-writes/")
    page.get_by_role("link", name="Sign in as somebody else").click()
    page.wait_for_url("**/sign-in/**")
    sign_in(page, server, name, address=page.url)
