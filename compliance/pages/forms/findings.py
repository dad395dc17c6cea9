"""What is asked of findings: which are shown, and what the owner says of one."""

from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.db.models import Q, QuerySet

from compliance.models import Decision, Finding
from compliance.rules.all import BY_ID
from inventory.pages.fields.day import DayField
from inventory.pages.forms.act import BookForm
from inventory.pages.forms.parts import set_choices
from inventory.pages.tables.filters import ALL, FilterForm
from shop.pages.middleware import ShopRequest


class FindingFilter(FilterForm):
    """Which findings are shown; without a choice those that are not met."""

    state = forms.ChoiceField(
        label="State",
        choices=[
            ("", "all but met"),
            (Finding.BREACH, "breach"),
            (Finding.OPEN, "open"),
            ("decided", "explained or accepted"),
            (Finding.MET, "met"),
            ("any", "any"),
        ],
    )
    rule = forms.ChoiceField(label="Rule")
    text = forms.CharField(label="Text", max_length=60)
    first = DayField(label="From")
    last = DayField(label="To")

    def __init__(self, request: ShopRequest) -> None:
        super().__init__(request)
        used = Finding.objects.filter(workshop=request.workshop).order_by("rule").values_list("rule", flat=True)
        set_choices(self, "rule", [ALL, *((rule, duty_of(rule)) for rule in used.distinct())])

    def narrow(self, rows: QuerySet[Finding]) -> QuerySet[Finding]:
        """Return the findings that fit."""
        chosen: dict[str, Any] = dict(self.chosen)
        state = chosen.get("state", "")
        decided = Q(decisions__kind__in=(Decision.EXPLAINED, Decision.ACCEPTED))
        if not state:
            rows = rows.exclude(state=Finding.MET)
        elif state == "decided":
            rows = rows.filter(decided).distinct()
        elif state != "any":
            rows = rows.filter(state=state)
        if "text" in chosen:
            rows = rows.filter(Q(words__icontains=chosen["text"]) | Q(about__icontains=chosen["text"]))
        asked = {"rule": "rule", "first": "day__gte", "last": "day__lte"}
        return rows.filter(**{field: chosen[name] for name, field in asked.items() if name in chosen})


def duty_of(rule: str) -> str:
    """Return the duty of a rule in words; the id of one that is no longer kept."""
    found = BY_ID.get(rule)
    return found.duty if found else rule


class DecisionForm(BookForm):
    """What the owner says of a finding, and why."""

    kind = forms.ChoiceField(
        label="What it is",
        widget=forms.RadioSelect,
        choices=[
            (Decision.EXPLAINED, "explained: what happened is known"),
            (Decision.ACCEPTED, "accepted: it is so, and stays so"),
            (Decision.REOPENED, "taken up again"),
        ],
    )
    reason = forms.CharField(label="Why", widget=forms.Textarea(attrs={"rows": 3}))
    occurred_at = None  # type: ignore[assignment] # a decision is made when it is written


class TickedField(forms.MultipleChoiceField):
    """Findings that were ticked, by their keys: a box stands for one, or for all of a list, with commas between."""

    widget = forms.CheckboxSelectMultiple

    def clean(self, value: Any) -> set[int]:
        keys = {key for each in value or [] for key in str(each).split(",")}
        if not keys:
            raise ValidationError("Tick the findings that this is about.")
        if not all(key.isdecimal() and len(key) <= LONGEST_KEY for key in keys):
            raise ValidationError("That is no finding of this list.")
        return {int(key) for key in keys}


LONGEST_KEY = 18


class TickedDecisionForm(DecisionForm):
    """What the owner says of the findings that are ticked in one group of the list, and why."""

    finding = TickedField(label="Findings")

    @property
    def ticked(self) -> list[str]:
        """What was ticked, as sent."""
        return list(self["finding"].value() or [])
