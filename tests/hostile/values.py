"""What is sent by somebody who means harm, or has a strange keyboard."""

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
METHODS = ("PUT", "DELETE", "PATCH", "OPTIONS", "HEAD", "TRACE", "GET", "POST", "BREW")
