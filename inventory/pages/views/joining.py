"""Pages on which two records of one partner are joined, and parted again; for the owner."""

from django.http import HttpResponse
from django.views.decorators.http import require_http_methods

from inventory.acts import joining
from inventory.acts.partners import partners_like
from inventory.book.refusals import LedgerError
from inventory.models import Partner
from inventory.pages import links
from inventory.pages.access import BookRequest, owner_required
from inventory.pages.forms.act import page, read_back, see
from inventory.pages.forms.joining import NO_LINE, SUBMIT, JoinForm, PartForm
from inventory.pages.records import partner_of


def _others(found: Partner) -> list[Partner]:
    """Return the partners that it may be joined to, those with a name like it first."""
    rows = Partner.objects.filter(account__book=found.account.book, account__joined_to=None, sister=None)
    likely = [one.pk for one in partners_like(found.account.book, found.name, found)]
    every = rows.exclude(pk=found.pk).select_related("account__book").order_by("name")
    return sorted(every, key=lambda one: one.pk not in likely)


@owner_required
@require_http_methods(["GET", "POST"])
def join(request: BookRequest, number: int) -> HttpResponse:
    """Say that a partner's record is another one's; read back first."""
    found = partner_of(request, number)
    if found.account.joined_to_id is not None:
        return see(request, "partner", number)
    others = {one.account.number: one for one in _others(found)}
    named = [(key, f"{one}, {one.kind}") for key, one in others.items()]
    form = JoinForm(request.POST or None, access=request.access, others=named)
    if request.method == "POST" and form.is_valid():
        kept = others[int(form.cleaned_data["kept"])]
        if form.needs_read_back(always=True):
            rows = [("Goes on under", f"{kept}, {kept.kind}"), ("Is joined to it", f"{found}, {found.kind}")]
            return read_back(request, form, rows, then=NO_LINE, submit=SUBMIT)
        try:
            joining.join_partners(found, kept)
        except LedgerError as error:
            form.add_error(None, str(error))
        else:
            return see(request, "partner", kept.account.number)
    back = links.address(request.access, "partner", number)
    return page(request, "inventory/join.html", form, record=found, back=back, none=not others)


@owner_required
@require_http_methods(["GET", "POST"])
def part(request: BookRequest, number: int) -> HttpResponse:
    """Let a joined partner stand by itself again; read back first."""
    found = partner_of(request, number)
    kept = found.account.joined_to
    if kept is None:
        return see(request, "partner", number)
    form = PartForm(request.POST or None, access=request.access)
    if request.method == "POST" and form.is_valid():
        if form.needs_read_back(always=True):
            rows = [("Stands by itself again", found), ("And so does", kept)]
            return read_back(request, form, rows, submit="Part them")
        joining.part_partners(found)
        return see(request, "partner", number)
    back = links.address(request.access, "partner", number)
    return page(request, "inventory/part.html", form, record=found, kept=kept, back=back)
