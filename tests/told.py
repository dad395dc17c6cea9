"""The invented year of the tests: the small told story of `shop.demo.story`, played once for all processes of a run.

In it the three people have a known password and have signed in already, each under a session that is known here: a
password is slow to try, and the tests of signing in type it.
"""

import os
import subprocess
import sys
from pathlib import Path

from tests import databases

ROOT = Path(__file__).resolve().parent.parent
PASSWORD = "a password for the browser"
SECRET_KEY = "only for the browser tests, on loopback"
# The story, and a session of each of its people, begun through the page under a key that is known here.
TELL = f"""
from django.contrib.sessions.models import Session
from django.core.management import call_command
from django.test import Client
from shop.demo.cast import SIGN_INS

call_command("demo_book", told=True, verbosity=0)
for name in SIGN_INS:
    client = Client(headers={{"host": "127.0.0.1"}})
    assert client.post("/sign-in/", {{"username": name, "password": {PASSWORD!r}}}).status_code == 303
    Session.objects.filter(session_key=client.session.session_key).update(session_key=f"signed-in-as-{{name}}")
"""


def told_year(migrated: str, of_the_run: Path) -> str:
    """Return the address of its database; nobody may write in it."""

    def tell(url: str) -> None:
        databases.copy(migrated, url)
        environment = {
            **os.environ,
            "DATABASE_URL": url,
            "SECRET_KEY": SECRET_KEY,
            "DEBUG": "0",
            "TAREBOOK_DEMO_PASSWORD": PASSWORD,
            "TAREBOOK_MEDIA": str(of_the_run / "media"),
        }
        words = [sys.executable, "manage.py", "shell", "--no-imports", "-c", TELL]
        subprocess.run(words, cwd=ROOT, env=environment, check=True)

    return databases.filled_once("year", of_the_run, tell)
