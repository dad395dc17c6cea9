"""What addresses a running server has, and what their forms would send: found from link to link."""

import re
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass, field
from html import unescape
from typing import Any
from urllib.parse import quote, urlsplit

OF_ONE_ROUTE = 3  # addresses
LEFT_OUT = ("sign-out", "export-file")
LINK = re.compile(r'(?:href|action|hx-get|hx-post)="(/[^"]*)"')
A_FORM = re.compile(r"<form\b([^>]*)>(.*?)</form>", re.DOTALL)
INPUT = re.compile(r"<(?:input|select|textarea|button)\b[^>]*\bname=\"([^\"]+)\"[^>]*")
VALUE = re.compile(r"\bvalue=\"([^\"]*)\"")
SELECT = re.compile(r"<select\b[^>]*\bname=\"([^\"]+)\"(.*?)</select>", re.DOTALL)
IS_FILE = re.compile(r'type="file"')


@dataclass(frozen=True)
class Place:
    """An address that exists, with the fields of its form and what the page itself would send."""

    route: str
    at: str
    fields: tuple[str, ...] = ()
    files: tuple[str, ...] = ()
    values: dict[str, list[str]] = field(default_factory=dict, hash=False)


def route_of(at: str) -> str:
    """Return the name of what answers at an address, empty where nothing does."""
    from django.urls import Resolver404, resolve

    try:
        return str(resolve(urlsplit(at).path).url_name or "")
    except Resolver404:
        return ""


def harvest(visitor: Any, slug: str) -> list[Place]:
    """Walk from link to link, a few of each kind; return what was found, and every other route with made-up names."""
    left, seen, count, found = [f"/w/{slug}/", "/", "/verify/", "/units/"], set(), Counter[str](), []
    while left:
        at = left.pop(0)
        route = route_of(at)
        if at in seen or not route or count[route] >= OF_ONE_ROUTE or route in LEFT_OUT:
            continue
        seen.add(at)
        count[route] += 1
        text = visitor.ask("GET", quote(at, safe="/?=&%+:,;")).body.decode(errors="replace")
        found.append(place_of(route, at, text))
        left += links(text)
    return found + [Place(route, at) for route, at in others(slug) if not count[route]]


def links(text: str) -> list[str]:
    """Return the addresses of this server that a page names."""
    return [unescape(link) for link in LINK.findall(text)]


def place_of(route: str, at: str, text: str) -> Place:
    """Return an address with the fields of the forms that its page shows."""
    files, values = set(), dict[str, list[str]]()
    for head, inside in A_FORM.findall(text):
        if 'method="post"' not in head:
            continue
        for one in INPUT.finditer(inside):
            files |= {one[1]} if IS_FILE.search(one[0]) else set()
            values.setdefault(unescape(one[1]), []).extend(map(unescape, VALUE.findall(one[0])))
        for name, options in SELECT.findall(inside):
            values[unescape(name)] += map(unescape, VALUE.findall(options))
    return Place(route, at, tuple(sorted({*values} - files)), tuple(sorted(files)), values)


def others(slug: str) -> Iterator[tuple[str, str]]:
    """Yield every route of the code with an address that is made up."""
    from django.urls import get_resolver

    from tests.test_permissions import PARAMETER, routes

    for route, pattern in routes(get_resolver()):
        if not route.startswith("static"):
            yield str(pattern.name or ""), "/" + PARAMETER.sub(lambda m: slug if m["name"] == "slug" else "1", route)
