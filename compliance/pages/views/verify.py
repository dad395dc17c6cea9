"""The open page: is this a document of a book kept here, untouched, and do its lines still stand? No sign-in."""

import time
from dataclasses import dataclass

from django.conf import settings
from django.contrib.auth.decorators import login_not_required
from django.core.cache import cache
from django.core.files.uploadedfile import UploadedFile
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_http_methods

from compliance.documents.verifying import Answer, check_code, check_file, compare_line
from compliance.pages.forms.documents import VerifyForm
from inventory.pages.forms.act import page

# How often one address may ask: a count in a sliding time, kept in the cache. The cache of each server process is its
# own, so several let through as many times more; that still is too few to guess a code.
QUESTIONS = 20
WITHIN_S = 600


@dataclass(frozen=True)
class Line:
    """What a printed digest says where the paper has no code that is found here."""

    agrees: bool
    words: str


@never_cache
@require_http_methods(["GET", "HEAD", "POST"])
@login_not_required
def verify(request: HttpRequest) -> HttpResponse:
    """Ask for a code, a file or a digest, and say what it is. The code may stand in the address."""
    asked = request.POST if request.method == "POST" else request.GET if "code" in request.GET else None
    if asked is not None and (seconds := wait_s(request)):
        return _too_often(request, seconds)
    form = VerifyForm(asked, request.FILES or None)
    answer, line = None, None
    if form.is_valid():
        cleaned = form.cleaned_data
        answer = _answer(cleaned["code"], cleaned["file"], cleaned["digest"])
        if cleaned["digest"] and cleaned["line"] and (answer is None or answer.document is None):
            line = Line(*compare_line(cleaned["line"], cleaned["digest"]))
    return page(request, "compliance/verify.html", form, answer=answer, line=line)


def _answer(code: str, file: "UploadedFile[bytes] | None", digest: str) -> Answer | None:
    if file:
        return check_file(file.read(), digest=digest)
    return check_code(code, digest=digest) if code else None


def _too_often(request: HttpRequest, seconds: int) -> HttpResponse:
    minutes = -(-seconds // 60)
    context = {
        "reason": "This address has asked about too many documents in a short time.",
        "wait": f"{minutes} minute{'' if minutes == 1 else 's'}",
        "again": reverse("verify"),
    }
    answer = render(request, "429.html", context, status=429)
    answer["Retry-After"] = str(seconds)
    return answer


def address_of(request: HttpRequest) -> str:
    """Return the address that asks; behind a front server that speaks https, the one that it saw."""
    forwarded = str(request.META.get("HTTP_X_FORWARDED_FOR", "")) if settings.HTTPS else ""
    return forwarded.rpartition(",")[2].strip() or str(request.META.get("REMOTE_ADDR", ""))


def wait_s(request: HttpRequest) -> int:
    """Count one more question and return 0, or the seconds to wait where there were too many already."""
    key, now = f"verify-{address_of(request)}".replace(" ", ""), time.time()
    asked = [moment for moment in cache.get(key, []) if moment > now - WITHIN_S]
    if len(asked) >= QUESTIONS:
        return int(asked[0] + WITHIN_S - now) + 1
    cache.set(key, [*asked, now], WITHIN_S)
    return 0
