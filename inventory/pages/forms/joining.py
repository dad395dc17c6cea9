"""The form that names the record under which another one goes on, and the one that parts them again."""

from collections.abc import Iterable
from typing import Any

from inventory.pages.forms.act import BookForm
from inventory.pages.forms.parts import CHOOSE, choice, set_choices

SUBMIT = "Join them"
NO_LINE = "No line of the book changes. They can be parted again on the page of the joined one."


class JoinForm(BookForm):
    """Which of the other records is the same one; `others` are (number of the account, words), likely ones first."""

    kept = choice("It is the same as", (), what="record that is kept")

    def __init__(self, *args: Any, others: Iterable[tuple[int, str]], **options: Any) -> None:
        super().__init__(*args, **options)
        del self.fields["occurred_at"]
        set_choices(self, "kept", [CHOOSE, *((str(number), words) for number, words in others)])


class PartForm(BookForm):
    """Nothing is asked; the read-back page says what is parted."""

    def __init__(self, *args: Any, **options: Any) -> None:
        super().__init__(*args, **options)
        del self.fields["occurred_at"]
