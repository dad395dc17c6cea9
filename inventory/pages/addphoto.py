"""The page that adds a photo to something, whatever it is."""

from dataclasses import dataclass
from typing import Any

from django.http import HttpResponse
from django.urls import reverse

from inventory.models import Entry
from inventory.pages.access import BookRequest
from inventory.pages.forms.photos import PhotoForm
from inventory.pages.running import ActPage, Understood, run
from inventory.shelf import photos


@dataclass(frozen=True)
class Target:
    """What a photo is added to. `of` is that for `photos.add_photo`; `page` its page and arguments."""

    title: str
    of: dict[str, Any]
    shows: tuple[str, ...]
    page: tuple[object, ...]


def add_to(request: BookRequest, target: Target) -> HttpResponse:
    """Answer the request of the page that adds a photo to `target`."""
    access = request.access
    form = PhotoForm(request.POST or None, request.FILES or None, access=access, shows=target.shows)

    def write() -> Entry:
        if form.picture is None:
            raise photos.NotKept("No photo came. Take or choose it again.")
        added = photos.add_photo(
            request.book, form.act(access), form.picture, shows=form.cleaned_data["shows"], **target.of
        )
        return added.entry

    name, *args = target.page
    back = reverse(str(name), args=[access.slug, *args])
    return run(
        request,
        form,
        ActPage(target.title, "Add the photo", back),
        understood=lambda: Understood(()),
        write=write,
        to=lambda _: target.page,
        template="inventory/photo_form.html",
    )
