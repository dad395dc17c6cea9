"""What the Find box answers of this floor: documents, by check code or number."""

from collections.abc import Iterator
from urllib.parse import urlencode

from django.urls import reverse

from compliance.documents.codes import MistypedCode, codes_in, read_code
from compliance.pages.tables.documents import documents_of, state_of
from inventory.output.days import day
from inventory.pages.finding import Asked, Hit, joined
from inventory.pages.links import Link
from shop.pages.middleware import ShopRequest


def documents(request: ShopRequest, asked: Asked) -> Iterator[Hit]:
    """Yield the document of a check code or of a number, such as "document 12"."""
    number, is_named = asked.number_of("document")
    rows = documents_of(request.workshop)
    if code := code_of(asked):
        rows = rows.filter(code=code)
    elif number is not None:
        rows = rows.filter(number=number)
    else:
        return
    for one in rows:
        words = joined(one.title, day(one.issued_at, request.access.units), state_of(one))
        href = reverse("document", args=[request.access.slug, one.number])
        yield Hit("document", f"document {one.number}", href, words, is_named or bool(code))


def verify_it(request: ShopRequest, asked: Asked) -> Iterator[Link]:
    """Yield the way to check a code that no document of this workshop bears."""
    if code := code_of(asked):
        yield Link(f"Check the code {code}", f"{reverse('verify')}?{urlencode({'code': code})}")


def code_of(asked: Asked) -> str:
    """Return the check code that is asked, typed or in the address of its page, as it is printed; empty for none."""
    if asked.scan.is_address:
        return next(codes_in(asked.scan.text.upper()), "")
    try:
        return read_code(asked.text)
    except MistypedCode:
        return ""
