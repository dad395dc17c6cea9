"""The page that takes the reading before of a leg: the cylinder and its gross, written for the visit at once."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any
from urllib.parse import urlencode

from django.http import HttpResponse
from django.urls import reverse

from inventory.book import weighing
from inventory.models import Cylinder
from inventory.pages import comeback
from inventory.pages.fields.sent import Sent
from inventory.pages.forms.act import see
from inventory.pages.running import ActPage, run
from inventory.shelf.queries import scales_of
from shop.models import Visit
from shop.pages.around import photos_late
from shop.pages.atscale import Standing
from shop.pages.forms.weigh import CHOOSE, begin_form
from shop.pages.found import remembered_scale
from shop.pages.goingon import PAGES
from shop.pages.middleware import ShopRequest


@dataclass(frozen=True)
class Beginning:
    """The page that takes the reading before of a leg; `fitting` are cylinders to choose from, with their words."""

    visit: Visit
    kind: str
    fitting: Sequence[tuple[Cylinder, str]]
    template: str
    context: Mapping[str, Any]
    gas: tuple[str, str] | None = None  # that comes into an empty cylinder

    def answer(self, request: ShopRequest) -> HttpResponse:
        """Show the page, or write the reading and lead to the one after."""
        by_number = {str(one.account.number): (one, words) for one, words in self.fitting}
        chosen = request.POST.get("cylinder") or (next(iter(by_number)) if len(by_number) == 1 else "")
        both = request.method == "POST" and request.POST.get(comeback.GO) == "both"
        if both and chosen in by_number:
            return self._both(request, chosen)
        cylinder = by_number[chosen][0] if chosen in by_number else None
        form = self._form(request, {number: words for number, (_, words) in by_number.items()}, chosen)
        if both:
            form.add_error("cylinder", CHOOSE)
        way = Standing(request, form, cylinder or Cylinder(), context=self.visit.context, meant=self.gas, leg=self.kind)
        page = PAGES[self.kind][0]

        return run(
            request,
            form,
            ActPage(submit="Write the reading before"),
            understood=way.understood,
            write=way.write,
            to=lambda _: (f"{page}-with", self.visit.number, chosen),
            said=lambda entry: f"Before written as line {entry.seq}.",
            late=photos_late(form),
            beside=lambda error: "gross" if isinstance(error, weighing.BelowTare) else None,
            template=self.template,
            context=self.context,
        )

    def _both(self, request: ShopRequest, number: str) -> HttpResponse:
        page, name = PAGES[self.kind]
        typed = Sent.of(request.POST, "gross").named("before")
        query = {name: number, "scale": request.POST.get("scale", ""), **typed}
        response = see(request, page, self.visit.number)
        response["Location"] += f"?{urlencode({key: value for key, value in query.items() if value})}"
        return response

    def _form(self, request: ShopRequest, words: Mapping[str, str], chosen: str) -> Any:
        scales = scales_of(request.book)
        echo = reverse("weigh-echo", args=[request.access.slug])
        initial = {"scale": str(remembered_scale(request, scales)), "cylinder": chosen}
        kind = begin_form(scales, words, echo=echo, scale_known=bool(initial["scale"]))
        form = kind(request.POST or None, request.FILES or None, access=request.access, initial=initial)
        if chosen and not form.is_bound:
            form.fields["gross"].widget.attrs["autofocus"] = True
        return form
