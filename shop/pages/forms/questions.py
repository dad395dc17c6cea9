"""Which questions a visit does not ask in a workshop."""

from itertools import groupby
from typing import Any

from django import forms

from inventory.pages.forms.act import PlainForm
from shop.models import Workshop
from shop.visits.questions import QUESTIONS, Question, left_out

STAYS = "That stays asked, by law or for safety. Tick only what stands here."


class QuestionsForm(PlainForm):
    """The questions that may be left out, by kind of step; what is ticked is not asked."""

    def __init__(self, *args: Any, workshop: Workshop, **options: Any) -> None:
        chosen = left_out(workshop.not_asked, workshop.jurisdiction)
        super().__init__(*args, **options)
        free = [one for one in QUESTIONS if not one.kept_by(workshop.jurisdiction)]
        for kind, group in groupby(free, lambda one: one.kind):
            questions = list(group)
            self.fields[kind.slug] = forms.MultipleChoiceField(
                label=kind.done,
                choices=[(one.key, one.words[:1].upper() + one.words[1:]) for one in questions],
                initial=[one.key for one in questions if one.key in chosen],
                required=False,
                widget=forms.CheckboxSelectMultiple,
                error_messages={"invalid_choice": STAYS},
            )
            self.fields[kind.slug].optional_words = "(tick what is not asked)"  # type: ignore[attr-defined]

    def chosen(self) -> list[str]:
        """Return the keys of what is not asked, in the order of the work."""
        return [key for name in self.fields for key in self.cleaned_data[name]]


def always_asked(workshop: Workshop) -> list[tuple[Question, str]]:
    """Return what cannot be left out in a workshop, and why."""
    kept = [(one, one.kept_by(workshop.jurisdiction)) for one in QUESTIONS]
    return [(one, why) for one, why in kept if why]
