"""Photos beside a record: what is there, asked with one query a record."""

from collections.abc import Mapping, Sequence
from typing import Any

from django import template

from inventory.models import Account, Entry, Photo
from inventory.shelf import photos
from inventory.shelf.photos import Shown

register = template.Library()


@register.simple_tag
def photos_of(record: Account | Entry) -> list[Shown]:
    """Return the photos of an account, or of a line of the book."""
    return photos.of_line(record) if isinstance(record, Entry) else photos.of_account(record)


@register.simple_tag
def photos_in_visit(visit: Any) -> dict[str, list[Photo]]:
    """Return the photos of all steps of a visit, by the name that each step has for photos."""
    return photos.of_visit(visit.vehicle.account.book, visit.context)


@register.simple_tag
def photos_of_step(found: Mapping[str, Sequence[Photo]], visit: Any, step: Any) -> list[Shown]:
    """Return the photos of one step out of those of its visit."""
    return photos.shown(found.get(f"{visit.context}/step:{step.pk}", ()), step.occurred_at)


@register.simple_tag
def sealed_photo(entry: Entry) -> dict[str, object] | None:
    """Return the photo that a line seals, its lateness and whether its file stands; None of other lines."""
    photo = Photo.objects.filter(entry=entry).select_related("book", "entry", "line", "account").first()
    if photo is None:
        return None
    [one] = photos.shown([photo], photo.line.occurred_at if photo.line else None)
    return {"shown": one, "photo": photo, "words": one.words, "stands": photos.content_of(photo) is not None}
