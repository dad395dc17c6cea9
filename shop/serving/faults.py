"""Faults of settings and databases as a sentence on the console, not as a trace through the code."""

import sys
from collections.abc import Iterator
from contextlib import contextmanager

from django.core.exceptions import ImproperlyConfigured
from django.db import OperationalError, ProgrammingError


@contextmanager
def in_a_sentence(*, traced: bool = False) -> Iterator[None]:
    """End with a sentence where settings or the database cannot be used; `traced`: a database's fault in full."""
    try:
        yield
    except ImproperlyConfigured as error:
        sys.exit(str(error))
    except (OperationalError, ProgrammingError) as error:
        if traced:
            raise
        sys.exit(_said(str(error).strip()))


def _said(reason: str) -> str:
    if "no such table" in reason or 'relation "' in reason:
        return f"The database is not prepared yet ({reason.splitlines()[0]}). Say first: manage.py migrate"
    return f"The database of DATABASE_URL cannot be used: {reason}"
