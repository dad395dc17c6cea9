"""Which tests are asked of PostgreSQL too, of all that use a database; SQLite is asked every one.

Most tests of pages and papers say what stands in words and figures that Python has made of rows. They ask the database
what Django asks it everywhere, and all kinds answer that alike. PostgreSQL is asked what is our own there or known to
differ: the book with its triggers, locks and chain, each module with SQL or grouped sums of its own, order and search
of text, what text and numbers it refuses, real commits, import and export, migrations; the whole year through the
pages, and the journeys of a browser that write, whose book is the told story as `demo_book` plays it there. What a page
does in the browser alone (cameras, scales, clocks, photos made smaller) and what a paper's file says without its book
are asked once. `--every-room` asks it the rest as well.
"""

from pathlib import Path

import pytest

TESTS = Path(__file__).resolve().parent
ASKED = (
    "browser/test_journeys.py",
    "browser/test_net_away.py",
    "browser/test_one_vehicle.py",
    "browser/test_resilience.py",
    "browser/test_the_short_way.py",
    "browser/test_the_way_through.py",
    "compliance/documents/test_issuing.py",
    "compliance/documents/test_seals.py",
    "compliance/documents/test_stored.py",
    "compliance/documents/test_verify_command.py",
    "compliance/documents/test_verifying.py",
    "compliance/due/",
    "compliance/findings/",
    "compliance/matching/",
    "compliance/pages/test_closing.py",
    "compliance/papers/test_labels.py",
    "compliance/papers/test_log.py",
    "compliance/readers/test_links.py",
    "compliance/statement/",
    "hostile/",
    "inventory/acts/",
    "inventory/book/",
    "inventory/models/",
    "inventory/pages/test_lines_pages.py",
    "inventory/pages/test_tables.py",
    "inventory/shelf/",
    "scenarios/test_scenario_10.py",
    "shop/importing/",
    "shop/keeping/",
    "shop/pages/test_logbook.py",
    "shop/pages/test_net_away.py",
    "shop/pages/test_people.py",
    "shop/pages/test_search.py",
    "shop/pages/test_set_up.py",
    "shop/pages/test_vehicles.py",
    "shop/people/",
    "shop/visits/test_step_photos.py",
    "shop/visits/test_undone.py",
    "shop/visits/test_undone_inside.py",
    "shop/visits/test_watches.py",
    "test_garbage.py",
    "test_permissions.py",
    "test_two_roles.py",
)


def is_asked_of_all(path: Path) -> bool:
    """Whether another kind of database might answer otherwise what the tests of this file ask."""
    return path.relative_to(TESTS).as_posix().startswith(ASKED)


def uses_database(item: pytest.Item) -> bool:
    """Whether a test can tell one kind of database from another."""
    if item.get_closest_marker("any_database"):
        return False
    marked = any(item.get_closest_marker(name) for name in ("django_db", "browser", "processes"))
    return marked or not {"db", "transactional_db", "database_url"}.isdisjoint(getattr(item, "fixturenames", ()))
