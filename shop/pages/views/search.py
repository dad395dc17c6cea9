"""The Find box: straight to the one thing that is meant, else a list; and what a camera has read."""

from django.http import HttpResponse, HttpResponseRedirect, JsonResponse
from django.shortcuts import render
from django.urls import reverse
from django.views.decorators.http import require_GET

from inventory.pages.finding import Asked
from inventory.pages.scanning import answer_to
from shop.pages import finding
from shop.pages.middleware import ShopRequest


@require_GET
def search(request: ShopRequest) -> HttpResponse:
    """Find a record by what is known of it: a number, a plate, a name, a code, the address on a label."""
    asked = Asked(request.GET.get("q", ""))
    said = asked.scan.text
    if not said:
        return render(request, "shop/search.html", {"said": said})
    records, more = finding.records(request, asked)
    lines, more_lines = finding.lines(request, asked)
    hits = [*records, *lines]
    meant = [hit for hit in hits if hit.is_exact]
    if len(hits) == 1 or (len(meant) == 1 and not asked.is_number):
        return HttpResponseRedirect((meant or hits)[0].href)
    context = {"said": said, "records": records, "lines": lines, "more": more or more_lines}
    if not hits:
        context |= {"asked": asked, "ways": finding.ways(request, asked)}
    return render(request, "shop/search.html", context)


@require_GET
def scanned(request: ShopRequest) -> JsonResponse:
    """Say what a camera has read: which cylinder it is, or a sentence for why it is none."""
    asked = Asked(request.GET.get("said", ""))
    found = answer_to(request, asked.said, is_new=request.GET.get("for") == "new")
    if "fill" not in found and (there := next(finding.elsewhere(request, asked), None)) is not None:
        found |= {"href": there.href, "link": there.words}
    return JsonResponse(found | {"find": f"{reverse('search', args=[request.access.slug])}"})
