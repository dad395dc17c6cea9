"""Somebody with a browser of their own making: keeps cookies, sends whatever is given, follows nothing."""

import http.client
import re
from dataclasses import dataclass, field
from html import unescape
from urllib.parse import quote, urlencode

from tests.hostile.world import PASSWORD

TOKEN = re.compile(r'name="csrfmiddlewaretoken" value="([^"]+)"')
FORM = "application/x-www-form-urlencoded"
Sent = list[tuple[str, str]]
File = tuple[str, str, str, bytes]  # field, name, type, content


@dataclass(frozen=True)
class Answer:
    """What came back."""

    status: int
    headers: dict[str, str]
    body: bytes

    @property
    def to_sign_in(self) -> bool:
        return self.status == 302 and self.headers.get("location", "").startswith("/sign-in/")


@dataclass
class Visitor:
    """One connection to a server, as one of those who may come; `name` is empty for whoever does not sign in."""

    port: int
    name: str = ""
    source: str = "127.0.0.2"  # wrong passwords are counted by address: who signs in comes from another one
    cookies: dict[str, str] = field(default_factory=dict)
    line: http.client.HTTPConnection | None = None

    def ask(self, method: str, at: str, body: bytes | None = None, kind: str = "", token: bool = True) -> Answer:
        """Send one request and return its answer; a connection that was cut is opened anew, once."""
        headers = {"Cookie": "; ".join(f"{name}={value}" for name, value in self.cookies.items())}
        if body is not None:
            headers |= {"Content-Type": kind} if kind else {}
        if token and "csrftoken" in self.cookies:
            headers["X-CSRFToken"] = self.cookies["csrftoken"]
        for again in (False, True):
            try:
                return self._sent(method, at, body, headers)
            except (http.client.HTTPException, OSError):
                self.line = None
                if again:
                    raise
        raise AssertionError

    def _sent(self, method: str, at: str, body: bytes | None, headers: dict[str, str]) -> Answer:
        if self.line is None:
            self.line = http.client.HTTPConnection("127.0.0.1", self.port, timeout=120, source_address=(self.source, 0))
        self.line.request(method, at, body, headers)
        answer = self.line.getresponse()
        content = answer.read()
        for name, value in answer.getheaders():
            if name.lower() == "set-cookie":
                cookie, _, rest = value.partition("=")
                self.cookies[cookie] = rest.partition(";")[0]
        return Answer(answer.status, {name.lower(): value for name, value in answer.getheaders()}, content)

    def sign_in(self) -> None:
        """Sign in, where there is a name."""
        self.cookies, source = {}, self.source
        self.line, self.source = None, "127.0.0.1"
        page = self.ask("GET", "/sign-in/").body.decode()
        if self.name:
            found = TOKEN.search(page)
            assert found
            sent = [("username", self.name), ("password", PASSWORD), ("csrfmiddlewaretoken", unescape(found[1]))]
            answer = self.ask("POST", "/sign-in/", urlencode(sent).encode(), FORM)
            assert answer.status == 303, (self.name, answer.status)
        self.line, self.source = None, source

    def send(self, at: str, sent: Sent, files: list[File] | None = None, token: bool = True) -> Answer:
        """Send a form."""
        if not files:
            return self.ask("POST", at, urlencode(sent).encode(), FORM, token)
        body = b"".join(
            b'--x\r\nContent-Disposition: form-data; name="%s"\r\n\r\n%s\r\n' % (_plain(name), value.encode())
            for name, value in sent
        )
        for name, called, kind, content in files:
            head = b'--x\r\nContent-Disposition: form-data; name="%s"; filename="%s"\r\nContent-Type: %s\r\n\r\n'
            body += head % (_plain(name), _plain(called), kind.encode()) + content + b"\r\n"
        return self.ask("POST", at, body + b"--x--\r\n", "multipart/form-data; boundary=x", token)


def _plain(name: str) -> bytes:
    return quote(name, safe=" /.-_[]").encode()
