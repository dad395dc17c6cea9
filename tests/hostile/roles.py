"""Who may what: a table of every address and command, made from the code. ``python -m tests.hostile.roles`` writes it.

A view says by its guards whom it lets in: `login_not_required` anybody, `writer_required` and `owner_required` those,
no guard every member of the workshop. What a view refuses besides stands in `NARROWER`, and is tested beside the table.
"""

import importlib
import inspect
import os
import re
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

ROOT = Path(__file__).resolve().parents[2]
README = ROOT / "shop/pages/README.md"
BEGIN, END = "<!-- made by tests/hostile/roles.py from here -->", "<!-- to here -->"
ROLES = ("anybody", "a person", "reader", "technician", "owner")
NARROWER = {
    "calendar": "whoever has the link",
    "car": "whoever has the link",
    "read": "whoever has the link",
    "read-file": "whoever has the link",
    "read-document": "whoever has the link",
    "metrics": "whoever has the token",
    "set-up": "until the first workshop stands: whoever has the code of the console",
    "who-writes": "who signed in on this phone that day, by their PIN",
    "pin": "one's own; not by a PIN",
    "second-factor": "one's own; not by a PIN",
    "second-factor-check": "whose password was right a moment ago",
    "person-data": "of oneself; of others the owner",
    "password": "one's own with the old one; of those who are nowhere else the owner",
    "units": "one's own",
    "phone": "sending: owner",
    "findings": "deciding: owner",
    "finding": "deciding: owner",
    "visit": "sending: technician, owner",
    "watch": "sending: technician, owner",
    "document": "issuing anew: technician, owner",
    "year": "what hands lost, and closing: owner",
    "year-of": "what hands lost, and closing: owner",
    "year-file": "what hands lost, and closing: owner",
    "reminders": "one's own; who gets mail: owner",
}
COMMANDS = ("inventory", "shop", "compliance")


def rows_of_addresses() -> Iterator[tuple[str, str, str, str]]:
    """Yield of each address its route, who gets in at all, by which methods, and what is narrower."""
    from django.urls import get_resolver

    from tests.test_permissions import routes

    for route, pattern in routes(get_resolver()):
        if not route.startswith("static/"):
            in_a_workshop = route.startswith("w/<slug:slug>/")
            name = str(pattern.name or "")
            shown = "/" + route.replace("<slug:slug>", "...").replace("str:", "").replace("int:", "").replace(
                "slug:", ""
            )
            yield shown, least_of(pattern.callback, in_a_workshop), methods_of(pattern.callback), NARROWER.get(name, "")


def least_of(view: Any, in_a_workshop: bool) -> str:
    """Return the least role that a view lets in."""
    if not getattr(view, "login_required", True):
        return "anybody"
    return str(getattr(view, "needs", "reader" if in_a_workshop else "a person"))


def methods_of(view: Callable[..., Any] | None) -> str:
    """Return what a view takes, from the guard that says so."""
    while view is not None:
        kept = inspect.getclosurevars(view).nonlocals.get("request_method_list")
        if kept is not None:
            return "sends" if "POST" in kept else "reads"
        view = getattr(view, "__wrapped__", None)
    return "sends"


def rows_of_commands() -> Iterator[tuple[str, str]]:
    """Yield each command with what it is for."""
    for floor in COMMANDS:
        for file in sorted((ROOT / floor / "management/commands").glob("[!_]*.py")):
            module = importlib.import_module(f"{floor}.management.commands.{file.stem}")
            yield file.stem, str(module.Command.help or (module.__doc__ or "").partition("\n")[0]).rstrip(".")


def table() -> str:
    """Return both tables as they stand in the README."""
    lines = ["| Address | Takes | Anybody | Person | Reader | Technician | Owner | Narrower |"]
    lines.append("| --- | --- | --- | --- | --- | --- | --- | --- |")
    for route, least, takes, narrower in sorted(rows_of_addresses()):
        marks = " | ".join("yes" if place >= ROLES.index(least) else "-" for place in range(len(ROLES)))
        lines.append(f"| `{route}` | {takes} | {marks} | {narrower} |")
    lines += ["", "| Command | Who | What it is for |", "| --- | --- | --- |"]
    lines += [f"| `manage.py {name}` | the server's account | {said} |" for name, said in rows_of_commands()]
    return "\n".join(lines)


def in_readme() -> str:
    """Return the table as it stands in the README."""
    found = re.search(f"{re.escape(BEGIN)}\n\n(.*?)\n\n{re.escape(END)}", README.read_text(), re.DOTALL)
    assert found
    return found[1]


def main() -> None:
    import django

    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "shop.settings")
    django.setup()
    README.write_text(README.read_text().replace(in_readme(), table()))


if __name__ == "__main__":
    main()
