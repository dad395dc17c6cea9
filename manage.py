#!/usr/bin/env python
"""Run Tarebook's commands."""

import os
import sys

from django.core.exceptions import ImproperlyConfigured
from django.core.management import execute_from_command_line
from django.db import OperationalError, ProgrammingError


def run() -> None:
    """Run the command of the command line; settings or a database that cannot be used are said in a sentence."""
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "shop.settings")
    try:
        execute_from_command_line(sys.argv)
    except ImproperlyConfigured as error:
        sys.exit(str(error))
    except (OperationalError, ProgrammingError) as error:
        if "--traceback" in sys.argv:
            raise
        sys.exit(_said(str(error).strip()))


def _said(reason: str) -> str:
    if "no such table" in reason or 'relation "' in reason:
        return f"The database is not prepared yet ({reason.splitlines()[0]}). Say first: manage.py migrate"
    return f"The database of DATABASE_URL cannot be used: {reason}"


if __name__ == "__main__":
    run()
