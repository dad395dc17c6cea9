"""What is sent by somebody who means harm, or has a strange keyboard."""

import re
from io import BytesIO

from PIL import Image

HOSTILE = (
    "", " ", "letters", "-5 kg", "1,234 kg", "NaN", "inf kg", "1e400 kg", "9" * 60 + " kg", "99999999999999999999",
    "-99999999999999999999", "1e9 C", "-1", "0", "a\x00b", "\ufffd", "x" * 10_000, "'; DROP TABLE x; --", "' OR 1=1 --",
    "<script>x</script>", "{{ 7*7 }}", "{% debug %}", "${7*7}", "=1+1", "@SUM(1)", "2026-13-45", "0001-01-01T00:00",
    "9999-12-31T23:59", "9999-12-31", "0001-01-01", "\u00b2", "24:99", "{}", "[]", '{"a":1}', "null",
    "../../etc/passwd",
    "..%2f..%2fetc%2fpasswd", "R-999", "0 min 250 psi 20 C; 20 min", "\u0661\u0662 kg", "\u202e12 kg", "1 lb 99 oz",
    "3/0 kg", "true", "on", "\r\nSet-Cookie: x=y", "http://elsewhere.invalid/", "//elsewhere.invalid", "javascript:x",
    "\U0001f9ca\U0001f525 kg", "\ufb03\u0301" * 50, "%00", "%", "_", "1;2", "0x10", "1_000", "1e-400",
)  # fmt: skip
PLAUSIBLE = (
    "1", "2 kg", "500 g", "12.5 kg", "20 C", "5 bar", "10 min", "2025-11-30", "2025-06-01T10:00", "a note", "AB 12 CDE",
    "owner@garage.invalid", "0 min 5 bar 20 C; 20 min 5 bar 20 C", "R-134a", "on", "",
)  # fmt: skip
LIKELY = (
    (r"_oz$|^pressed_at$|^queued$|^watch$", ("",)),
    (r"^(gross|before|after)", ("7 kg", "7.5 kg", "8 kg", "9.5 kg", "11 kg", "13.482 kg", "12 kg", "6.9 kg")),
    (r"^(mass|nameplate|charged|recovered|off)", ("5 g", "50 g", "0.45 kg")),
    (r"pressure|weakest", ("5 bar", "150 psi", "0 bar")),
    (r"temperature|coldest", ("20 C", "68 F")),
    (r"waited|minutes|length", ("10 min", "1 h")),
    (r"volume|water_capacity", ("2 L", "12 L")),
    (r"^(checked_on|issued_on|enrolled_on|first_registered)$", ("2025-11-30", "2024-02-29")),
    (r"^(until|expires_on|requalify_by|next_look)$", ("2031-05-01", "2026-12-31")),
    (r"^occurred_at$", ("", "", "2025-12-02T12:00")),
    (r"^(reason|note|evidence|why|by|says|how)", ("a note", "seen by two of us")),
)  # fmt: skip
QUERIES = (
    "q", "day", "visit", "step", "replaces", "watch", "min", "plate", "sort", "page", "basis", "from", "to", "first",
    "last", "state", "target", "source", "account", "cause", "lines-after", "lines-before", "format", "kind", "name",
    "gross", "refrigerant", "grade", "text", "next", "cylinder", "back", "kept", "units", "code", "other", "key",
)  # fmt: skip
BODIES = (
    ("application/x-www-form-urlencoded; charset=utf-16", b"a=1"),
    ("application/x-www-form-urlencoded; charset=bogus", b"a=1"),
    ("application/x-www-form-urlencoded", b"a=%ff&%00=%00&=&&a"),
    ("application/x-www-form-urlencoded", b"a=1&" * 1_500),
    ("multipart/form-data; boundary=x", b'--x\r\nContent-Disposition: form-data; name="a"\r\n\r\n1'),
    ("multipart/form-data", b"x"),
    ("application/json", b'{"a": [[[[[[[[[[[['),
    ("text/xml", b'<!DOCTYPE x [<!ENTITY y SYSTEM "file:///etc/passwd">]><x>&y;</x>'),
    ("", b""),
)
FILES = (
    ("../../evil.jpg", "image/jpeg", b"\xff\xd8\xff\xe0" + b"\x00" * 64),
    ("a.csv", "text/csv", b"=1+1,\x00\n" + b"a," * 5_000),
    ("a.zip", "application/zip", b"PK\x05\x06" + b"\x00" * 18),
    ("a.xlsx", "application/zip", b"PK\x03\x04" + b"\x00" * 30),
    ("a.pdf", "application/pdf", b"%PDF-1.7\n1 0 obj<<>>endobj\ntrailer<</Root 1 0 R>>"),
    ("a.svg", "image/svg+xml", b"<svg onload='x'/>"),
    ("", "", b""),
)
_white = BytesIO()
Image.new("RGB", (8, 8), "white").save(_white, "JPEG")
PICTURE = _white.getvalue()
METHODS = ("PUT", "DELETE", "PATCH", "OPTIONS", "HEAD", "TRACE", "GET", "POST", "BREW")


def likely(name: str, choices: list[str]) -> tuple[str, ...] | list[str]:
    """Return what somebody who means well might send in a field: what the page offers, else what its name asks for."""
    return choices or next((values for pattern, values in LIKELY if re.search(pattern, name)), PLAUSIBLE)
