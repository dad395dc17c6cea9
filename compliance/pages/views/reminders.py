"""Reminders: a person's own choice of mail and calendar; the owner also sees who gets mail."""

from django.contrib import messages
from django.db.models import QuerySet
from django.http import HttpResponse
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_http_methods

from compliance.due import feed, mailing
from compliance.due.words import said
from compliance.models import CalendarAddress, Reminder
from compliance.pages.forms.reminders import RemindersForm
from inventory.pages.access import writer_required
from inventory.pages.forms.act import page, see
from shop.models import Membership
from shop.pages.middleware import ShopRequest
from shop.pages.reaching import reached

EDITS = require_http_methods(["GET", "HEAD", "POST"])
SHOWN_ONCE = "calendar-address"
LAST_MAILS = 5


@never_cache
@EDITS
@writer_required
def reminders(request: ShopRequest) -> HttpResponse:
    """What falls due for the person, whether it comes by mail, and the address of the calendar."""
    form = RemindersForm(request.POST or None, access=request.access, member=request.member)
    if request.method == "POST" and form.is_valid():
        form.keep()
        messages.info(request, "Kept.")
        return see(request, "reminders")
    today, units = timezone.localdate(), request.access.units
    context = {
        "due": [said(one, units, today) for one in mailing.due_for(request.member, today)],
        "no_server": "" if mailing.mail_is_set() else mailing.NO_SERVER,
        "mails": Reminder.objects.filter(user=request.member.user)[:LAST_MAILS],
        "others": _who_gets_mail(request) if request.access.is_owner else None,
        "calendar": CalendarAddress.objects.filter(member=request.member, revoked_at=None).first(),
        "fresh": request.session.pop(SHOWN_ONCE, ""),
        **reached(request),
    }
    return page(request, "compliance/reminders.html", form, **context)


def _who_gets_mail(request: ShopRequest) -> QuerySet[Membership]:
    chosen = Membership.objects.filter(workshop=request.workshop, active=True, reminded__by_mail=True)
    return chosen.select_related("user").order_by("pk")


@EDITS
@writer_required
def send_now(request: ShopRequest) -> HttpResponse:
    """Send the person the mail of today, if none went out today; whoever only looks is led to the page."""
    if request.method == "POST":
        user = request.member.user
        if not mailing.mail_is_set():
            messages.info(request, mailing.NO_SERVER)
        elif not mailing.wanting().filter(pk=user.pk).exists():
            messages.info(request, "You have not chosen mail, so none is sent.")
        else:
            words = mailing.remind(user, anyway=True).words
            messages.info(request, f"{words[:1].upper()}{words[1:]}")
    return see(request, "reminders")


@EDITS
@writer_required
def calendar_new(request: ShopRequest) -> HttpResponse:
    """Make the person's calendar address, or a new one in its place; it is shown once, on the page that follows."""
    if request.method == "POST":
        token = feed.new_address(request.member)
        base = str(reached(request)["address"]).rstrip("/")
        request.session[SHOWN_ONCE] = f"{base}{reverse('calendar', args=[token])}"
    return see(request, "reminders")


@EDITS
@writer_required
def calendar_revoke(request: ShopRequest) -> HttpResponse:
    """Let the person's calendar address lead nowhere any more."""
    if request.method == "POST" and feed.revoke_address(request.member):
        messages.info(request, "The calendar address leads nowhere any more.")
    return see(request, "reminders")
