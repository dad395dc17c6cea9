"""The form that adds a photo."""

from collections.abc import Sequence
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.forms.boundfield import BoundField
from django.template.loader import render_to_string
from django.utils.safestring import SafeString

from inventory.book.ledger import Act
from inventory.measure.figures import parted
from inventory.pages.fields.when import WhenField
from inventory.pages.forms.act import BookForm
from inventory.pages.forms.parts import set_choices
from inventory.shelf.camera import LONGEST_SIDE, MOST_BYTES, NotAPicture, Picture, read_picture
from inventory.shelf.photos import Taken

# Named each, so that whatever a device keeps is offered, and what it keeps otherwise handed over as one of them.
ACCEPTED = "image/jpeg,image/png,image/webp,image/heic,image/heif"
MOST_AT_ONCE = 6
SENT_AS = ("photo", "file")
ONE_OF_TWO = "(one of the two)"
NOTHING_SENT = "Take a photo, or choose one."
TWO_SENT = "Two photos came. Send one of them, then the other."
SEND_AGAIN = "A browser cannot keep a file: take or choose the photo again."
WORDS = {
    "scale": "the scale’s display",
    "plate": "the plate or the stamp",
    "label": "the label",
    "gauge": "the gauge",
    "joint": "the joint",
    "paper": "the paper",
    "other": "something else",
}


class PhotosWidget(forms.Widget):
    """Two ways to send several pictures: by the camera, and what was taken before."""

    template_name = "_photos.html"
    needs_multipart_form = True
    use_fieldset = True

    def value_from_datadict(self, data: Any, files: Any, name: str) -> list[Any]:
        return [*files.getlist(name), *files.getlist(f"{name}_chosen")] if files else []

    def value_omitted_from_data(self, data: Any, files: Any, name: str) -> bool:
        return False

    def render(self, name: str, value: Any, attrs: Any = None, renderer: Any = None) -> SafeString:
        context = self.get_context(name, None, attrs)
        return SafeString(render_to_string(self.template_name, {**context, "accepted": ACCEPTED}))


class PhotosField(forms.Field):
    """Pictures of what `shows` names, none to `MOST_AT_ONCE`, that come with something else; cleaned: `Picture`s."""

    takes_files = True  # read by _field.html: a browser cannot keep what was chosen

    def __init__(self, *, shows: str = "other", **options: Any) -> None:
        self.shows = shows
        most_mb = MOST_BYTES // 1_000_000
        options.setdefault(
            "help_text",
            f"Up to {MOST_AT_ONCE}, each up to {most_mb} MB: JPEG, PNG, WebP, HEIC. Kept at most "
            f"{parted(LONGEST_SIDE)} pixels long, without the place and hour that cameras note.",
        )
        super().__init__(required=False, widget=PhotosWidget(), **options)

    def clean(self, value: Any) -> tuple[Picture, ...]:
        if len(value) > MOST_AT_ONCE:
            raise ValidationError(
                f"{len(value)} photos came; at most {MOST_AT_ONCE} are taken at once. Add the others from the log."
            )
        found, refused = [], []
        for number, file in enumerate(value, 1):
            try:
                found.append(read_picture(file))
            except NotAPicture as error:
                which = f"Photo {number} ({_name(file)}): " if len(value) > 1 else ""
                refused.append(f"{which}{error}")
        if refused:
            raise ValidationError(refused)
        return tuple({one.digest: one for one in found}.values())  # the same one twice is one


def photo_fields(form: forms.Form) -> list[str]:
    """Return the names of the fields of a form that take pictures."""
    return [name for name, field in form.fields.items() if isinstance(field, PhotosField)]


def sent_photos(form: forms.Form) -> list[BoundField]:
    """Return the fields in which pictures came: what reads back asks for them again."""
    return [form[name] for name in photo_fields(form) if form[name].data]


def taken_in(form: BookForm) -> tuple[Taken, ...]:
    """Return the pictures that came with a form, each once and with the act of its own line; unread ones left out."""
    if form.access is None or "key" not in form.cleaned_data:
        return ()
    act = Act(form.request_key, form.access.actor, form.occurred, {"step": str(form.request_key)})
    found: dict[str, Taken] = {}
    for name in photo_fields(form):
        for one in form.cleaned_data.get(name) or ():
            shows = form.fields[name].shows  # type: ignore[attr-defined]
            found.setdefault(one.digest, Taken(act.derived(f"photo {one.digest}"), one, shows))
    return tuple(found.values())


def _name(file: Any) -> str:
    name = str(file.name)
    return name if len(name) <= 30 else f"{name[:14]} ... {name[-12:]}"


class PhotoForm(BookForm):
    """One photo, by the camera or from what the device has, and what it shows; `picture` is it once read."""

    photo = forms.FileField(
        label="Take a photo",
        required=False,
        widget=forms.FileInput(attrs={"accept": "image/*", "capture": "environment"}),
        help_text="On a phone or tablet this opens the camera.",
    )
    file = forms.FileField(
        label="Or choose one that was taken before",
        required=False,
        widget=forms.FileInput(attrs={"accept": ACCEPTED}),
        help_text=f"JPEG, PNG, WebP or HEIC, at most {MOST_BYTES // 1_000_000} MB. Where anything is to be put right, "
        "choose it again: a browser cannot keep a file.",
    )
    shows = forms.ChoiceField(label="What it shows", widget=forms.RadioSelect)
    occurred_at = WhenField(label="When it was taken")

    def __init__(self, *args: Any, shows: Sequence[str], **options: Any) -> None:
        super().__init__(*args, **options)
        set_choices(self, "shows", [(one, WORDS[one]) for one in shows])
        self.initial.setdefault("shows", shows[0])
        for name in SENT_AS:
            self.fields[name].optional_words = ONE_OF_TWO  # type: ignore[attr-defined] # the page asks for it
        self.picture: Picture | None = None

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean()
        sent = [name for name in SENT_AS if cleaned.get(name)]
        if any(name in self.errors for name in SENT_AS):
            return cleaned
        if len(sent) != 1:
            self.add_error("photo", TWO_SENT if sent else NOTHING_SENT)
            return cleaned
        try:
            self.picture = read_picture(cleaned[sent[0]])
        except NotAPicture as error:
            self.add_error(sent[0], str(error))
        else:
            if self.errors:
                self.add_error(sent[0], SEND_AGAIN)
        return cleaned
