"""The project itself: what lies at its top, what its lock promises, and that its pages name its commands."""

import ast
import re
import subprocess
import tomllib
from pathlib import Path
from typing import Any

import grimp
import pytest

from tests import engines

ROOT = Path(__file__).resolve().parent.parent
PAGES = ("README.md", "DEVELOPERS.md")
FILES = {*PAGES, ".gitignore", "Makefile", "manage.py", "pyproject.toml", "requirements.lock"}
FOLDERS = {".ci", "compliance", "inventory", "shop", "templates", "tests"}
ADDRESS = re.compile(r"\b(?:https?|ftp)://([^\s/\"'<>)]+)")
LOOPBACK = re.compile(r"(127\.0\.0\.1|localhost|\[::1\]|\$\w+|\{\w+\})(:\S*)?$")
LINK = re.compile(r"\]\(([^)#\s]*)(?:#([^)\s]*))?\)")
WEB = re.compile(r"(django\.(http|forms|urls|views|template|shortcuts|middleware|test)|django_htmx|django_tables2)\b")
MARKUP_NAMES = {"www.w3.org"}  # the name of a markup language, never fetched


def tracked(*patterns: str) -> list[Path]:
    listed = subprocess.run(["git", "ls-files", "-z", "--", *patterns], cwd=ROOT, capture_output=True, check=True)
    return [ROOT / name for name in listed.stdout.decode().split("\0") if name]


def test_what_is_asked_of_postgresql_is_there() -> None:
    assert [where for where in engines.ASKED if not (ROOT / "tests" / where).exists()] == []


def test_what_commits_for_real_is_asked_of_postgresql() -> None:
    commits = re.compile(r"\b(transactional_db|transaction=True|database_url)\b")
    found = [path for path in tracked("tests/**/test_*.py") if commits.search(path.read_text())]
    assert len(found) > 5
    assert [path.name for path in found if not engines.is_asked_of_all(path) and path != Path(__file__)] == []


def project() -> dict[str, Any]:
    return tomllib.loads((ROOT / "pyproject.toml").read_text())


def contracts() -> dict[str, dict[str, Any]]:
    return {contract["name"]: contract for contract in project()["tool"]["importlinter"]["contracts"]}


def strange_hosts(path: Path) -> set[str]:
    """The hosts named in a file, without this machine itself."""
    return {host for host in ADDRESS.findall(path.read_text()) if not LOOPBACK.match(host)} - MARKUP_NAMES


def test_nothing_else_lies_at_the_top() -> None:
    tops = {path.relative_to(ROOT).parts[0] for path in tracked()}
    assert tops - FILES - FOLDERS == set()


def test_what_a_start_needs_is_there() -> None:
    tops = {path.relative_to(ROOT).parts[0] for path in tracked()}
    assert (FILES | FOLDERS) - set(PAGES) - tops == set()


def test_every_line_of_the_lock_has_a_version_and_hashes() -> None:
    lock = (ROOT / "requirements.lock").read_text().replace("\\\n", " ")
    lines = [line for line in lock.splitlines() if line.strip() and not line.lstrip().startswith("#")]
    assert len(lines) > 50
    loose = [line for line in lines if not re.fullmatch(r"[a-z0-9._-]+==\S+( +--hash=sha256:[0-9a-f]{64})+ *", line)]
    assert loose == []


def test_the_lock_holds_everything_that_the_project_asks_for() -> None:
    asked = project()["project"]["dependencies"] + project()["project"]["optional-dependencies"]["dev"]
    names = {re.split(r"[\[<>=!~; ]", line)[0].lower().replace("_", "-") for line in asked}
    locked = set(re.findall(r"^([a-z0-9._-]+)==", (ROOT / "requirements.lock").read_text(), re.MULTILINE))
    assert names - locked == set()


@pytest.mark.parametrize(
    "pattern", ["requirements.lock", "pyproject.toml", "Makefile", ".ci", "*settings.py", "*.html", "*.css", "*.js"]
)
def test_the_tools_and_the_pages_name_no_host(pattern: str) -> None:
    assert {str(path): hosts for path in tracked(pattern) if (hosts := strange_hosts(path))} == {}


def test_imports_go_down_only() -> None:
    layers = contracts()["Imports go down only"]
    assert layers["type"] == "layers"
    assert layers["layers"] == ["compliance", "shop", "inventory"]


def test_every_module_that_knows_no_django_is_held_to_it() -> None:
    held = contracts()["Calculations know no Django"]
    assert held["forbidden_modules"] == ["django"]
    graph = grimp.build_graph("inventory", "shop", "compliance", include_external_packages=True, cache_dir=None)
    free = {
        name
        for name in graph.modules
        if name.split(".")[0] in FOLDERS
        and not graph.find_children(name)
        and not graph.find_shortest_chain(name, "django", as_packages=True)
        and (ROOT / (name.replace(".", "/") + ".py")).exists()
    }
    listed = set(held["source_modules"])
    loose = {name for name in free if not any(name == one or name.startswith(one + ".") for one in listed)}
    assert loose == set(), "name them in pyproject.toml under the contract 'Calculations know no Django'"


def imported(folder: Path) -> set[str]:
    """What the modules of a folder import, each name with its module."""
    found = set()
    for node in (node for path in folder.rglob("*.py") for node in ast.walk(ast.parse(path.read_text()))):
        if isinstance(node, ast.Import):
            found |= {alias.name for alias in node.names}
        elif isinstance(node, ast.ImportFrom):
            found |= {f"{node.module}.{alias.name}" for alias in node.names}
    return found


@pytest.mark.parametrize("wing", ["models", "book", "shelf", "acts"])
def test_the_book_knows_no_web(wing: str) -> None:
    """import-linter takes a package from outside as a whole; here are the parts of Django that make pages."""
    assert {name for name in imported(ROOT / "inventory" / wing) if WEB.match(name)} == set()
    assert {name for name in imported(ROOT / "inventory" / "pages") if WEB.match(name)} >= {"django.forms"}


def test_the_scripts_can_be_run_and_read_by_the_shell() -> None:
    scripts = [path for path in tracked(".ci") if path.name != "common"]
    assert scripts
    for script in scripts:
        assert script.stat().st_mode & 0o111, f"{script} may not be run"
        subprocess.run(["bash", "-n", str(script)], check=True)


def targets() -> set[str]:
    """The commands that make takes, as its own list of them says."""
    phony = re.search(r"^\.PHONY: (.+)$", (ROOT / "Makefile").read_text(), re.MULTILINE)
    assert phony
    return set(phony[1].split()) - {"help"}


def test_make_lists_every_command_that_it_takes() -> None:
    shown = subprocess.run(["make", "-s", "help"], cwd=ROOT, capture_output=True, text=True, check=True).stdout
    assert targets() == set(re.findall(r"make ([a-z-]+)", shown))


def test_the_pages_of_the_project_name_every_command_and_setting() -> None:
    words = "".join((ROOT / page).read_text() for page in PAGES)
    settings = (ROOT / "shop" / "settings.py").read_text()
    named = set(re.findall(r'(?:environ\.get|_switch|_whole)\("([A-Z_]+)"', settings)) | {
        "HOST",
        "PORT",
        "TAREBOOK_DEMO_PASSWORD",
    }
    assert {f"make {target}" for target in targets() if f"make {target}" not in words} == set()
    assert {name for name in named if name not in words} == set()


def anchors(page: Path) -> set[str]:
    """The names by which the headings of a page can be linked to."""
    heads = re.findall(r"^#+ (.+)$", page.read_text(), re.MULTILINE)
    return {re.sub(r"[^\w -]", "", head.lower()).replace(" ", "-") for head in heads}


def test_the_links_of_every_page_lead_somewhere() -> None:
    pages = tracked("*.md")
    links = [(page, *found) for page in pages for found in LINK.findall(page.read_text())]
    assert {page.name for page in pages} >= set(PAGES)
    assert links
    for page, name, part in links:
        target = page.parent / name if name else page
        assert target.exists(), f"{page} leads to {name}, which is not there"
        assert not part or part in anchors(target), f"{page} leads to #{part}, which is not there"


def test_every_published_figure_that_differs_from_ours_names_its_test() -> None:
    folder = ROOT / "tests" / "published"
    rows = [line for line in (folder / "README.md").read_text().splitlines() if line.startswith("| ")][2:]
    there = set(re.findall(r"^def (test_\w+)", "".join(one.read_text() for one in folder.glob("*.py")), re.MULTILINE))
    named = [re.findall(r"`(test_\w+)`", row) for row in rows]
    assert rows
    assert [row for row, names in zip(rows, named, strict=True) if len(names) != 1] == []
    assert {name for names in named for name in names} - there == set()


LANDED = {
    "apps",
    "management",
    "migrations",
    "settings",
    "static",
    "templatetags",
    "urls",
    "wsgi",
}  # where Django looks


@pytest.mark.parametrize("floor", ["inventory", "shop", "compliance"])
def test_a_floor_has_at_most_ten_rooms_on_its_landing(floor: str) -> None:
    rooms = {path.relative_to(ROOT / floor).parts[0].removesuffix(".py") for path in tracked(f"{floor}/*.py")}
    assert len(rooms - LANDED - {"__init__"}) <= 10


def test_no_file_of_ours_is_longer_than_four_hundred_lines() -> None:
    product = [path for floor in ("inventory", "shop", "compliance") for path in tracked(f"{floor}/*.py")]
    long = [str(path.relative_to(ROOT)) for path in product if len(path.read_text().splitlines()) > 400]
    assert long == []


def test_what_the_developers_page_names_is_there() -> None:
    words = (ROOT / "DEVELOPERS.md").read_text()
    named = re.findall(r"`((?:\.ci|inventory|shop|compliance|tests)/[\w/.-]*)`", words)
    assert len(named) > 60
    assert [name for name in named if not (ROOT / name).exists()] == []
