"""Forms of the scale: before, after, check."""

from collections.abc import Mapping, Sequence
from typing import Any

from django import forms

from inventory.models import Scale
from inventory.pages.fields.scale import ScaleField
from inventory.pages.forms.act import BookForm
from inventory.pages.forms.photos import PhotosField, sent_photos
from inventory.pages.forms.weighing import gross_field
from shop.models import Visit

ELSEWHERE = (
    ("transfer", "into or from another cylinder"),
    ("loss", "lost or purged"),
    ("nothing", "nothing moved"),
)
ASIDE = ("occurred_at", "note", "photos")
ECHO_WITH = "closest .quantity, [name=scale], [name=restarted], [name=went], [name^=before], [name=target]"


class WeighForm(BookForm):
    """One reading of a cylinder."""

    set_aside_words = "When, note, photos"
    aside: Sequence[str] = ASIDE

    @property
    def set_aside(self) -> list[Any]:
        """The fields that stand folded away."""
        return [self[name] for name in self.aside]

    @property
    def set_aside_open(self) -> bool:
        """Whether one of those has to be put right, or photos chosen again."""
        return any(field.errors for field in self.set_aside) or bool(sent_photos(self))

    @property
    def up_front(self) -> list[Any]:
        """The reading itself."""
        return [field for field in self.visible_fields() if field.name not in self.aside]


class BeginForm(WeighForm):
    """The first reading of a leg, with the cylinder that stands on the scale; the scale is folded away once known."""

    set_aside_words = "Scale, when, note, photos"
    aside = ("scale", *ASIDE)


CHOOSE = "Choose the cylinder that stands on the scale."


def begin_form(
    scales: Sequence[Scale], cylinders: Mapping[str, str], *, echo: str, scale_known: bool
) -> type[WeighForm]:
    """Return the form of the reading before of a leg; `cylinders` by number, with the words of the choice."""
    gross = gross_field("Gross before")
    gross.echo_url, gross.echo_from = echo, "[name=cylinder]"
    gross.echo_include = f"{ECHO_WITH}, [name=cylinder]"
    fields: dict[str, Any] = {
        "cylinder": forms.ChoiceField(
            label="Cylinder on the scale",
            choices=list(cylinders.items()),
            widget=forms.RadioSelect,
            error_messages={"required": CHOOSE},
        ),
        "gross": gross,
        "scale": ScaleField(scales),
        "note": _note(),
        "photos": PhotosField(label="Photos of the scale", shows="scale"),
        "field_order": ["cylinder", "gross", "scale", *ASIDE],
    }
    if not scale_known:
        fields |= {"aside": ASIDE, "set_aside_words": WeighForm.set_aside_words}
    return type("BeginningForm", (BeginForm,), fields)


def _note() -> forms.CharField:
    return forms.CharField(label="Note", required=False, widget=forms.Textarea(attrs={"rows": 2}))


def box(label: str) -> forms.BooleanField:
    """Return a box that stands by itself, with its words beside it."""
    field = forms.BooleanField(label=label, required=False)
    field.widget.one_box = True  # read by _field.html
    return field


def happened_field() -> forms.BooleanField:
    """Return the box by which a refused filling is written all the same, since it has happened."""
    return box("It has happened already: write what is")


def weigh_form(
    scales: Sequence[Scale],
    *,
    echo: str,
    visits: Sequence[Visit] | None = None,
    open_since: bool = False,
    folded: bool = False,
) -> type[WeighForm]:
    """Return the form of a reading; `open_since`: it is the second one, and asks where the gas went.

    `folded`: the scale is known, and stands folded away.
    """
    gross = gross_field()
    gross.echo_url, gross.echo_include = echo, ECHO_WITH
    fields: dict[str, Any] = {"gross": gross, "scale": ScaleField(scales)}
    if open_since:
        fields["restarted"] = box("The scale was switched off, moved or zeroed since the first reading")
        choices = [(f"visit-{visit.number}", f"{visit.vehicle}, visit {visit.number}") for visit in visits or ()]
        fields["went"] = forms.ChoiceField(
            label="Went to, or came from",
            choices=[*choices, *ELSEWHERE],
            widget=forms.RadioSelect,
            error_messages={"required": "Say where the gas went, or that nothing moved."},
        )
        fields["went"].created_by = "visit"  # see inventory.pages.comeback
    fields["note"] = _note()
    fields["photos"] = PhotosField(label="Photos of the scale", shows="scale")
    fields["field_order"] = ["gross", "went", "scale", "restarted", *ASIDE]
    if folded:
        fields["aside"] = [name for name in ("scale", "restarted", *ASIDE) if name in fields or name == "occurred_at"]
        fields["set_aside_words"] = "Scale, when, note, photos"
    return type("ReadingForm", (WeighForm,), fields)
