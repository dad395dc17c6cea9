"""A reading of the scale as its form has it: one that stands by itself, or the second of a pair; what is written."""

from dataclasses import dataclass

from django.utils import timezone

from inventory.acts import onscale
from inventory.book.refusals import Refused
from inventory.book.weighing import Gross
from inventory.models import Cylinder, Entry, Weighing
from inventory.output.days import when
from inventory.pages.forms.photos import sent_photos, taken_in
from inventory.pages.forms.slips import sent_of
from inventory.pages.forms.weighing import reading_of
from inventory.pages.running import Understood
from inventory.shelf.plausible import Expected
from shop.models import Visit
from shop.pages.forms.usual import leg_doubt
from shop.pages.forms.weigh import WeighForm, happened_field
from shop.pages.found import remember_scale
from shop.pages.middleware import ShopRequest
from shop.visits import scale as scale_words
from shop.visits.acts import gas_in, gas_out
from shop.visits.acts.entering import StepFacts
from shop.visits.doubts import ASKED_IF_IT_WAS, charge_in_doubt, past_label, recovery_in_doubt
from shop.visits.gas import gas_of
from shop.visits.log import with_log
from shop.visits.scale import Said, Target

NOTHING = Understood(())
PAIR_IS_CLOSED = (
    "The first reading of this pair stands open no more: the second was written meanwhile. Look at the cylinder’s "
    "lines; written now, this reading begins a new pair."
)


@dataclass
class OnScale:
    """A reading of a cylinder; `gross` once it is understood."""

    request: ShopRequest
    form: WeighForm
    cylinder: Cylinder
    before: Weighing | None = None
    check: bool = False
    context: str = ""  # of the line: the visit that it is taken for
    meant: tuple[str, str] | None = None  # the gas that an empty cylinder is for from now on
    leg: str = ""  # which of the visit's the reading before is taken for
    gross: Gross | None = None
    visit: Visit | None = None
    change_mg: int = 0
    gap: str = ""  # how far a first reading is from the one before it, where that is more than both can tell

    def read(self) -> Gross | None:
        """Return the reading, which the session then keeps the scale of; None where it is to be put right."""
        self.gross = reading(self.request, self.form, self.cylinder, self.before)
        if self.gross is not None:
            remember_scale(self.request, self.gross.scale)
        return self.gross

    @property
    def when(self) -> tuple[str, object]:
        """When it was read, as it is read back."""
        return "When", when(self.form.occurred, self.form.units)


class Standing(OnScale):
    """The first reading of a pair, or a check."""

    @property
    def submit(self) -> str:
        """What the button says that writes it."""
        return "Enter the check" if self.check else "Write the reading before"

    @property
    def role(self) -> str:
        """What the book calls it."""
        return Weighing.CHECK if self.check else Weighing.BEFORE

    def understood(self) -> Understood:
        """Return what is read back; what is wrong is put on the form."""
        if not self.check and self.form.left_over("went"):
            self.form.add_error("gross", PAIR_IS_CLOSED)
            return NOTHING
        if (gross := self.read()) is None:
            return NOTHING
        unit = self.request.access.units.mass
        told = scale_words.first_reading(self.request.book, gross, self.form.occurred, unit, self.role)
        self.gap = told.gap
        return Understood(
            [("Cylinder", gross.cylinder), ("Gross", gross.said), ("Scale", gross.scale), self.when],
            then=" ".join(told.lines),
            always=bool(self.gap) or sent_of(self.form, "gross").insisted,
            plain=told.plain,
            facts=told.facts,
            files=sent_photos(self.form),
        )

    def write(self) -> Entry:
        """Write the reading."""
        assert self.gross is not None  # noqa: S101 - understood
        act = self.form.act(self.request.access, context=self.context, remark=self.form.cleaned_data["note"])
        return onscale.weigh(
            self.request.book, act, self.gross, self.role, taken_in(self.form), meant=self.meant, leg=self.leg
        )

    def said(self, entry: Entry) -> str:
        """Return what is said of the written line."""
        if self.check:
            return ""
        gap = f" It is {self.gap}: booked as unexplained. A slip? Reverse that line." if self.gap else ""
        return f"Before written as line {entry.seq}.{gap} Weigh it again when the gas has moved."


class Pair(OnScale):
    """The second reading of a pair, and where the gas went."""

    submit = "Write it in the book"

    def understood(self) -> Understood:
        """Return what is read back; what is wrong is put on the form."""
        went, before = self.form.cleaned_data["went"], self.before
        if (gross := self.read()) is None or before is None:
            return NOTHING
        self.visit = visit = open_visit(self.request, went)
        if visit is None and went != "nothing":
            raise Refused("That visit is not open any more. Choose another.")
        told = said_of(self.request, gross, before, went)
        self.change_mg = told.change_mg
        much = leg_doubt(self.form, "gross", visit, told.change_mg, gross) if visit is not None else ""
        say = self.request.access.units.small_mass_said
        onto = past_label(visit, -told.change_mg, say) if visit is not None and told.change_mg < 0 else ""
        asked = ASKED_IF_IT_WAS if onto else ""
        doubt = " ".join(filter(None, (doubt_of(visit, gross, told), onto, asked, much)))
        by = f"{before.said} on {before.scale} and {gross.said} on {gross.scale}"
        mass = scale_words.change_said(told.change_mg, told.u_mg, self.request.access.units.mass)
        return Understood(
            [*self.ends(gross), ("Mass", mass), ("By", by), self.when],
            then=" ".join([doubt, *told.lines]).strip(),
            always=bool(doubt) or not told.shows or sent_of(self.form, "gross").insisted,
            plain=told.plain and (visit is not None or abs(told.change_mg) <= 2 * told.u_mg),
            facts=[*told.facts, before.pk, doubt],
            files=sent_photos(self.form),
        )

    def ends(self, gross: Gross) -> list[tuple[str, object]]:
        """Return the rows that say from where the gas went, and to where."""
        if self.visit is None:
            return [("Cylinder", gross.cylinder), ("Moved", "nothing")]
        vehicle = f"{self.visit.vehicle}, visit {self.visit.number}"
        pair = (gross.cylinder, vehicle) if self.change_mg <= 0 else (vehicle, gross.cylinder)
        return [("From", pair[0]), ("To", pair[1])]

    def write(self) -> Entry:
        """Write the reading, and what it says went into or came out of a vehicle.

        A refusal of what came out offers to write it all the same: both readings say that it is in there.
        """
        assert self.gross is not None  # noqa: S101 - understood
        form, visit, gross = self.form, self.visit, self.gross
        act = form.act(self.request.access, context=visit.context if visit else "", remark=form.cleaned_data["note"])
        if visit is None:
            return onscale.weigh(self.request.book, act, gross, taken=taken_in(form))
        facts = StepFacts(doer=self.request.member.user, photos=taken_in(form))
        if self.change_mg <= 0:
            return gas_in.charge(visit, act, facts, before=None, after=gross)[0]
        try:
            return gas_out.recover(
                visit,
                act,
                facts,
                gas=gas_of(visit),
                before=None,
                after=gross,
                jurisdiction=self.request.access.jurisdiction,
                happened=bool(form.data.get("happened")),
            )[0]
        except Refused:
            form.fields["happened"] = happened_field()
            raise

    def said(self, entry: Entry) -> str:
        """Return what is said of the written line; what is said of any where it is empty."""
        return ""


def reading(
    request: ShopRequest, form: WeighForm, cylinder: Cylinder, before: Weighing | None, *, in_doubt: bool = False
) -> Gross | None:
    """Return the reading; what cannot be is refused on the form, and what is far from usual asked about."""
    expected = Expected()
    visit = open_visit(request, form.cleaned_data.get("went", ""))
    if before is not None and visit is not None:
        expected = scale_words.leg_expected(None, gains=None, label_mg=visit.vehicle.nameplate_mg)
    return reading_of(form, "gross", cylinder, form.cleaned_data.get("scale"), expected, in_doubt=in_doubt)


def said_of(request: ShopRequest, gross: Gross, before: Weighing | None, went: str) -> Said:
    """Return what a reading says, with the one before where there is one, and with the label of a vehicle's visit."""
    unit = request.access.units.mass
    if before is None:
        return scale_words.first_reading(request.book, gross, timezone.now(), unit)
    visit = open_visit(request, went)
    target = None
    if visit is not None and visit.vehicle.nameplate_mg:
        target = Target(int(visit.vehicle.nameplate_mg), int(visit.vehicle.nameplate_tolerance_mg or 0))
    return scale_words.second_reading(request.book, None, gross, timezone.now(), unit, target)


def open_visit(request: ShopRequest, went: str) -> Visit | None:
    """Return the open visit that ``visit-12`` means; None for anything else."""
    number = went.removeprefix("visit-")
    if not went.startswith("visit-") or not number.isdecimal():
        return None
    visits = with_log(Visit.objects.filter(workshop=request.workshop).exclude(state=Visit.CLOSED))
    return visits.select_related("workshop__book").filter(number=int(number)).first()


def doubt_of(visit: Visit | None, gross: Gross, said: Said) -> str:
    """Return what is asked before gas between a vehicle and the cylinder is written; empty where nothing is odd."""
    if visit is None or said.change_mg == 0:
        return ""
    return recovery_in_doubt(visit) if said.change_mg > 0 else charge_in_doubt(visit, gross.cylinder, elsewhere=True)
