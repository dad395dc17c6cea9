"""The open page: is this a document of a book kept here, untouched, and do its lines still stand? No sign-in."""

from dataclasses import dataclass

from django.contrib.auth.decorators import login_not_required
from django.core.files.uploadedfile import UploadedFile
from django.http import HttpRequest, HttpResponse
from django.urls import reverse
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_http_methods

from compliance.documents.verifying import Answer, check_code, check_file, compare_line
from compliance.pages.forms.documents import VerifyForm
from inventory.measure.own import METRIC
from inventory.pages.forms.act import page
from shop.pages.answers import too_often
from shop.people.tries import Tries

QUESTIONS = 20  # of one address in ten minutes: too few to guess a code
ASKED = Tries("verify", QUESTIONS)


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
    if asked is not None:
        if seconds := ASKED.wait_s(request):
            reason = "This address has asked about too many documents in a short time."
            return too_often(request, seconds, reason, again=reverse("verify"))
        ASKED.count(request)
    form = VerifyForm(asked, request.FILES or None)
    answer, line = None, None
    if form.is_valid():
        cleaned = form.cleaned_data
        answer = _answer(cleaned["code"], cleaned["file"], cleaned["digest"])
        if cleaned["digest"] and cleaned["line"] and (answer is None or answer.document is None):
            line = Line(*compare_line(cleaned["line"], cleaned["digest"]))
    units = answer.document.units if answer and answer.document else METRIC
    return page(request, "compliance/verify.html", form, answer=answer, line=line, units=units)


def _answer(code: str, file: "UploadedFile[bytes] | None", digest: str) -> Answer | None:
    if file:
        return check_file(file.read(), digest=digest)
    return check_code(code, digest=digest) if code else None
