"""What the server logs: no secret part of an address that opens a page, and a line for what was refused. Pure.

The address of what was refused is what somebody typed, and may be a name or a plate: its pattern stands for it.
"""

import logging
import re
from typing import Any

DISK_IS_FULL = 503
_SECRET = re.compile(r"/(read|car|calendar)/[^/\s?\"']+")


def without_secrets(text: str) -> str:
    """Return a text with the secret part of each address replaced: ``/read/.../``."""
    return _SECRET.sub(r"/\1/...", text)


def pattern_of(request: Any) -> str:
    """Return the pattern of a request's address, as the code has it."""
    match = getattr(request, "resolver_match", None)
    return f"/{match.route}" if match else "an address that is not there"


class SecretAddresses(logging.Filter):
    """Takes the secret parts out of a line of the log before it is written."""

    def filter(self, record: logging.LogRecord) -> bool:
        said, request = record.getMessage(), getattr(record, "request", None)
        if 400 <= getattr(record, "status_code", 0) < 500 and request is not None:
            said = said.replace(f": {request.path}", f": {pattern_of(request)}")
        record.msg, record.args = without_secrets(said), None
        if record.exc_info and record.exc_text is None:
            record.exc_text = without_secrets(logging.Formatter().formatException(record.exc_info))
        return True


class RefusedInALine(logging.Filter):
    """Leaves one line of a request that was refused: nothing of ours is at fault, to be looked for in the code."""

    def filter(self, record: logging.LogRecord) -> bool:
        status = getattr(record, "status_code", 500)
        if record.name.startswith("django.security") or status < 500 or status == DISK_IS_FULL:
            record.exc_info = record.exc_text = None
        return True
