"""Photos: adding one to a line or a cylinder, and handing the pictures to those who may see the record."""

from django.http import Http404, HttpResponse
from django.shortcuts import get_object_or_404
from django.utils.cache import get_conditional_response
from django.views.decorators.http import require_http_methods, require_safe

from inventory.models import Entry, Photo
from inventory.pages.access import BookRequest, cylinder_of, writer_required
from inventory.pages.addphoto import Target, add_to
from inventory.shelf import photos
from inventory.shelf.camera import small


@writer_required
@require_http_methods(["GET", "HEAD", "POST"])
def line_photo(request: BookRequest, seq: int) -> HttpResponse:
    """Add a photo to a line with weighings."""
    line = get_object_or_404(Entry, book=request.book, seq=seq)
    if not line.weighings.exists():
        raise Http404("Nothing was weighed there.")
    shows = ("scale", "label", "plate", "paper", "other")
    return add_to(request, Target(f"Add a photo to line {seq}", {"line": line}, shows, ("entry", seq)))


@writer_required
@require_http_methods(["GET", "HEAD", "POST"])
def cylinder_photo(request: BookRequest, number: int) -> HttpResponse:
    """Add a photo to a cylinder."""
    found = cylinder_of(request, number)
    shows = ("plate", "label", "scale", "paper", "other")
    return add_to(request, Target(f"Add a photo of {found}", {"account": found.account}, shows, ("cylinder", number)))


@require_safe
def photo(request: BookRequest, seq: int) -> HttpResponse:
    """Hand over a photo as it is kept; not where its bytes are not those that were sealed."""
    return _handed_over(request, seq, made_small=False)


@require_safe
def photo_small(request: BookRequest, seq: int) -> HttpResponse:
    """Hand over a photo made small, for lists."""
    return _handed_over(request, seq, made_small=True)


def _handed_over(request: BookRequest, seq: int, *, made_small: bool) -> HttpResponse:
    rows = Photo.objects.select_related("book", "entry")
    found = get_object_or_404(rows, book=request.book, entry__seq=seq)
    content = photos.content_of(found)
    if content is None:
        raise Http404("The file was removed, is missing, or is not what was sealed.")
    response = HttpResponse(
        small(content) if made_small else content,
        content_type="image/jpeg",
        headers={
            "X-Content-Type-Options": "nosniff",
            "Cache-Control": "private, no-cache",  # asked again each time: a photo may have been removed
            "Content-Disposition": f'inline; filename="photo-{seq}.jpg"',
            "ETag": f'"{found.digest}"',
        },
    )
    return get_conditional_response(request, etag=f'"{found.digest}"', response=response) or response
