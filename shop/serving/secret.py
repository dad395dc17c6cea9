"""Addresses that open a page to whoever knows them: their secret part is kept out of what the server logs. Pure."""

import logging
import re

_SECRET = re.compile(r"/(read|car|calendar)/[^/\s?\"']+")


def without_secrets(text: str) -> str:
    """Return a text with the secret part of each address replaced: ``/read/.../``."""
    return _SECRET.sub(r"/\1/...", text)


class SecretAddresses(logging.Filter):
    """Takes the secret parts out of a line of the log before it is written."""

    def filter(self, record: logging.LogRecord) -> bool:
        record.msg, record.args = without_secrets(record.getMessage()), None
        if record.exc_info and record.exc_text is None:
            record.exc_text = without_secrets(logging.Formatter().formatException(record.exc_info))
        return True
