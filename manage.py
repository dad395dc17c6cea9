#!/usr/bin/env python
"""Run Tarebook's commands."""

import os
import sys

from django.core.management import execute_from_command_line

from shop.serving.faults import in_a_sentence


def run() -> None:
    """Run the command of the command line; settings or a database that cannot be used are said in a sentence."""
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "shop.settings")
    with in_a_sentence(traced="--traceback" in sys.argv):
        execute_from_command_line(sys.argv)


if __name__ == "__main__":
    run()
