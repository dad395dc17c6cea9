"""The lines of a bay sheet, written one after the other by the ordinary acts, each in a transaction of its own.

In order of their times. First every line is read back; then the lines are written until one is refused, or means
something else than was read back since those before it were written. What is written says so and stays; the line that
stopped says why; the others stay as typed. A line sent twice is one entry, by its key.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from typing import Any
from uuid import UUID

from inventory.book import weighing
from inventory.book.refusals import LedgerError
from inventory.models import Cylinder, Entry, Scale
from inventory.pages.running import Understood
from shop.models import Step, Visit
from shop.pages.forms.gas import leg_form
from shop.pages.forms.keeping import kept
from shop.pages.forms.sheet import LEGS, LineForm
from shop.pages.forms.stepfields import Making
from shop.pages.forms.visits import StepForm, step_form
from shop.pages.legs import LegByReadings
from shop.pages.middleware import ShopRequest
from shop.visits.acts import entering, gas_out
from shop.visits.gas import gas_of
from shop.visits.kinds import BY_NAME

Asked = tuple[StepForm, Callable[[], Understood], Callable[[], object]]  # a form, how it is understood, how written


@dataclass
class Row:
    """A line of the sheet and what became of it: `written` in words, or `told` as it is read back."""

    form: LineForm
    written: str = ""
    told: Sequence[tuple[str, object]] = ()
    then: str = ""
    signature: str = ""

    @property
    def is_refused(self) -> bool:
        """Whether something in it has to be put right."""
        return bool(self.form.errors)


@dataclass
class Sheet:
    """A sheet that is being typed in: for whom, with which scale, and its lines."""

    request: ShopRequest
    visit: Visit
    rows: Sequence[Row]
    making: Making
    cylinders: Sequence[Cylinder]
    scales: Sequence[Scale]
    doer: str = ""
    scale: str = ""
    stopped: bool = field(default=False, init=False)

    def enter(self) -> None:
        """Write the lines in order of their times, as far as each was read back and is taken."""
        waiting = [row for row in self.rows if not row.written and not row.form.errors and not row.form.is_empty]
        self.stopped = any(row.is_refused for row in self.rows if not row.written)
        for row in sorted(waiting, key=lambda one: one.form.at_time):
            self._enter(row)
            self.stopped = self.stopped or not row.written

    def _enter(self, row: Row) -> None:
        step = self._step(row)
        if step is None:
            return
        form, understood, write = step
        if not form.is_valid():
            return self._refuse(row, form)
        try:
            told = understood()
            if form.errors:
                return self._refuse(row, form)
            row.told, row.then, row.signature = told.rows, told.then, form.signature(told.facts)
            if row.form.cleaned_data["seen"] == row.signature and not self.stopped:
                write()
                row.written = written_by(self.visit, row.form)
        except LedgerError as error:
            row.form.refuse(error)

    def _refuse(self, row: Row, form: StepForm) -> None:
        for name, errors in form.errors.as_data().items():
            for error in errors:
                row.form.add_error(row.form.place_of(name), error)

    def _step(self, row: Row) -> Asked | None:
        what, sent = row.form.step, row.form.as_sent(self.doer, self.scale)
        if what in LEGS:
            return self._leg(row, what, sent)
        form = step_form(BY_NAME[what], self.making)(sent, access=self.request.access).about(self.visit.vehicle)

        def write() -> Step:
            key = form.request_key
            return entering.add_step(self.visit, what, occurred_at=form.occurred, key=key, facts=form.facts)

        return form, lambda: Understood([("Step", BY_NAME[what].done), *_said(row)]), write

    def _leg(self, row: Row, what: str, sent: Any) -> Asked | None:
        chosen = row.form.cleaned_data["cylinder"]
        cylinder = next(one for one in self.cylinders if str(one.account.number) == chosen)
        before = weighing.open_before(cylinder)
        kind = leg_form(what, self.making, cylinder, self.scales, is_open=before is not None, echo="", happened=False)
        if "after" not in kind.base_fields:
            row.form.add_error(
                "cylinder", f"{cylinder} is not read on a scale. Enter this line on the page of its step."
            )
            return None
        form = kind(sent, access=self.request.access).about(self.visit.vehicle)
        form.fields.pop("onto", None)  # the sheet has no place for it: the question stands in what is read back
        gas, becomes = None, ""
        if what == "recovery":
            gas = gas_of(self.visit)
            room = gas_out.rooms(self.visit, gas, self.request.access.jurisdiction, [cylinder])[0]
            becomes = room.becomes
        leg = LegByReadings(self.request, self.visit, form, cylinder, gas, becomes, open_before=before)
        return form, leg.understood, leg.write


def _said(row: Row) -> list[tuple[str, object]]:
    """Return what stands in a line, as it was read."""
    typed = {name: kept(row.form.cleaned_data[name]) for name in ("at", *row.form.own, "note")}
    return [(str(row.form[name].label), one["echo"]) for name, one in typed.items() if one]


def written_by(visit: Visit, form: LineForm) -> str:
    """Say which line of the book, or step of the log, a line of the sheet has written; empty where none."""
    try:
        key = UUID(form.sent_key)
    except ValueError:
        return ""
    entry = Entry.objects.filter(book=visit.workshop.book_id, request_key=key).first()
    if entry is not None:
        return f"Written as line {entry.seq}."
    return "Written in the log." if Step.objects.filter(visit=visit, request_key=key).exists() else ""
