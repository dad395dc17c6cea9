"""The page that judges a cylinder for air."""

from django.contrib import messages
from django.http import HttpResponse
from django.urls import reverse

from inventory.book.refusals import LedgerError, RequestKeyReused
from inventory.gases import purity
from inventory.gases.cautions import cautions_for
from inventory.models import AirCheck, Cylinder
from inventory.pages.access import BookRequest, cylinder_of, writer_page
from inventory.pages.forms.act import page, read_back, see
from inventory.pages.forms.tested import AirForm
from inventory.pages.oncylinder import Rows, facts_of, holding
from inventory.pages.running import ActPage, sent_before
from inventory.shelf import airchecks

REST_ASKED = purity.REST_CONDITIONS[0].lower() + purity.REST_CONDITIONS[1:]
ASKED_OF_AIR = ("pressure", "temperature")  # a link from the bench fills them in


@writer_page
def air(request: BookRequest, number: int) -> HttpResponse:
    """Judge a cylinder for air by its pressure after it has stood, and keep that with the cylinder."""
    found, access = cylinder_of(request, number), request.access
    form = AirForm(
        request.POST or None,
        cylinder=found,
        access=access,
        initial={name: request.GET[name] for name in ASKED_OF_AIR if request.GET.get(name)},
    )
    if request.method == "POST" and form.is_valid():
        try:
            return _judge_air(request, form, found)
        except RequestKeyReused:
            return sent_before(request, form)
        except LedgerError as error:
            form.refuse(error)
    shown = ActPage(
        f"Air in {found}",
        "Keep it with the cylinder",
        reverse("cylinder", args=[access.slug, number]),
        notes=[
            f"Asked before a reading counts: {REST_ASKED}",
            "Nothing moves by this: it is kept beside the cylinder.",
        ],
    )
    return page(request, "inventory/act.html", form, shown=shown, cautions=cautions_for("receive"), **facts_of(form))


def _judge_air(request: BookRequest, form: AirForm, cylinder: Cylinder) -> HttpResponse:
    """Read a judged reading back, or keep it; a form that was kept already says so."""
    reading, content = form.air_reading, form.content
    if content is None:
        raise LedgerError(airchecks.NOTHING_HELD)
    judged = airchecks.judge(cylinder, content, reading)
    kept = AirCheck.objects.filter(request_key=form.request_key).exists()
    if not kept and form.needs_read_back(always=True, facts=[content]):
        rows: Rows = [
            ("Cylinder", holding(cylinder, content, request.access)),
            ("Pressure", form.cleaned_data["pressure"]),
            ("At", form.cleaned_data["temperature"]),
            ("Stood", form.cleaned_data.get("waited") or "not entered"),
            ("Out of the sun", form.cleaned_data.get("shaded") or "not entered"),
            ("Gauge", reading.gauge or "not entered: read to 1 psi (0.07 bar) is assumed"),
            ("When", form.cleaned_data.get("occurred_at") or "now"),
            ("Verdict", judged.verdict),
        ]
        submit = "Keep it with the cylinder"
        return read_back(request, form, rows, then=judged.words, facts=[content], submit=submit)
    _, is_new = airchecks.note_air_check(
        cylinder, reading, key=form.request_key, actor=request.access.actor, occurred_at=form.occurred
    )
    messages.info(request, "Kept with the cylinder." if is_new else "Already kept, once.")
    return see(request, "cylinder", cylinder.account.number)
