"""What the book still has in a vehicle after its recovery: settled, and always read back."""

from dataclasses import dataclass

from django.http import HttpResponse

from inventory.models import Entry
from inventory.pages.running import ActPage, Understood, run
from shop.bench.evidence import Remainder
from shop.bench.leakrate import BetweenVisitsAnswer
from shop.models import Visit
from shop.pages.around import around, photos_late
from shop.pages.forms.gas import filled, remainder_form, split
from shop.pages.forms.stepfields import Making
from shop.pages.forms.visits import PHOTOS, StepForm
from shop.pages.middleware import ShopRequest
from shop.visits import proofs, steps
from shop.visits.acts import gas_out
from shop.visits.gas import held_in, living
from shop.visits.inputs import CANNOT
from shop.visits.steps import StepKind

NOTHING_LEFT = "The book has nothing in it, so no mass is written: say what speaks for what is missing."
ROUNDED_MG = 60  # the figure in the form is rounded to a tenth of a gram, or finer


def settle(request: ShopRequest, visit: Visit, kind: StepKind) -> HttpResponse:
    """Settle what the book still has in the vehicle: always read back, since it goes to air or to unexplained."""
    held = _held(visit)
    suggested = _suggested(visit, held, request.access.atmosphere_pa)
    making = Making(request.workshop)
    form = remainder_form(making, list(held))(
        request.POST or None,
        request.FILES or None,
        access=request.access,
        initial={
            "doer": request.member.user.handle,
            **filled(suggested.remainder, request.access.units, stays=suggested.charged_since),
        },
    )
    settling = Settling(request, visit, form, held, suggested)
    return run(
        request,
        form,
        ActPage(),
        understood=settling.understood,
        write=settling.write,
        to=lambda _: ("visit", visit.number),
        late=photos_late(form),
        template="shop/visit_settle.html",
        context={
            **around(visit, kind, request.access.units),
            "held": held,
            "suggested": suggested,
            "says": _says(visit),
        },
    )


def only_evidence(request: ShopRequest, visit: Visit) -> bool:
    """Whether a recovery stands and the book has nothing left to settle: then what speaks for a loss is all there is.

    A form with masses that was sent stays one, also where it has itself settled all there was.
    """
    return bool(living(visit, "recovery")) and "rest" not in request.POST and not _held(visit)


def _held(visit: Visit) -> dict[str, int]:
    return {code: mass for code, mass in held_in(visit.vehicle).items() if mass > 0}


def _says(visit: Visit) -> str:
    received = living(visit, "received")
    return steps.text_of(received[-1].data, "says") if received else ""


@dataclass(frozen=True)
class Suggested:
    """What the readings say of a remainder, and what keeps them from saying it."""

    remainder: Remainder | None
    why_not: str = ""
    loss: BetweenVisitsAnswer | None = None
    charged_since: bool = False

    @property
    def loss_sentence(self) -> str:
        """The loss since the last charge in its sentence; empty where there is none to be said."""
        return self.loss.sentence if self.loss else ""


def _suggested(visit: Visit, held: dict[str, int], atmosphere_pa: float) -> Suggested:
    """Return how the remainder would be split by what stands in the log."""
    held_mg = sum(held.values())
    left_mg = proofs.left_mg(visit, held_mg)
    try:
        proof = proofs.proof_of(visit, atmosphere_pa)
        remainder = proofs.remainder_of(visit, left_mg, proof, atmosphere_pa)
    except CANNOT as error:
        return Suggested(None, str(error))
    if remainder is None:
        return Suggested(None, "Nothing bounds what was left for the vacuum pump: liquid may be left, or no recovery.")
    residue = proofs.Amount(remainder.residue_g, remainder.u_residue_g)
    return Suggested(remainder, loss=proofs.loss_since_charge(visit, residue), charged_since=left_mg < held_mg)


@dataclass
class Settling:
    """A remainder as its form has it: what is understood of it, and what is written."""

    request: ShopRequest
    visit: Visit
    form: StepForm
    held: dict[str, int]
    suggested: Suggested

    def __post_init__(self) -> None:
        self.units = self.request.access.units
        self.code, self.parts = "", gas_out.Remainder()

    def understood(self) -> Understood:
        """Return what is read back; what is wrong is put on the form."""
        cleaned = self.form.cleaned_data
        self.code = cleaned.get("refrigerant") or next(iter(self.held), self.visit.vehicle.refrigerant)
        held_mg = self.held.get(self.code, 0)
        bound_mg, self.parts = split(cleaned, held_mg)
        self.refuse(bound_mg, held_mg)
        facts, then = [self.code, held_mg], self.suggested.loss_sentence
        return Understood(self.rows(bound_mg), then, always=True, facts=facts, files=[self.form[PHOTOS]])

    def refuse(self, bound_mg: int, held_mg: int) -> None:
        """Put on the form why these figures cannot be."""
        said, named_mg = self.units.small_mass_said, self.parts.named_mg
        if named_mg > held_mg:
            words = f"{said(named_mg)} is more than the {said(held_mg)} that the book"
            self.form.add_error("bound", f"{words} has left in {self.visit.vehicle}. Read the figures again.")
        remainder = self.suggested.remainder
        most_mg = round(remainder.residue_bound_g * 1000) if remainder else None
        if most_mg is not None and bound_mg > most_mg + ROUNDED_MG:
            words = f"By final pressure, volume and oil at most {said(most_mg)} can still have been inside."
            self.form.add_error("bound", words)
        if self.parts.road_mg and self.form.cleaned_data["evidence"].startswith("E"):
            words = "With nothing to show for it, it is short and not lost on the road. Choose what speaks for it."
            self.form.add_error("evidence", words)

    def rows(self, bound_mg: int) -> list[tuple[str, object]]:
        """Return what is read back."""
        said, parts = self.units.small_mass_said, self.parts
        residue = f"{said(parts.residue_mg)}, half of at most {said(bound_mg)}"
        return [
            ("From", f"{self.visit.vehicle}, {self.code}"),
            ("Pumped out", f"{residue}: to air, the workshop’s"),
            ("In our hands", f"{said(parts.hands_mg)} to air, the workshop’s"),
            ("On the road", f"{said(parts.road_mg)} to air, the vehicle’s"),
            ("Short", f"{said(parts.shortfall_mg)} to unexplained"),
        ]

    def write(self) -> Entry:
        """Write it as it was split."""
        remark = self.form.cleaned_data["note"]
        act = self.form.act(self.request.access, context=self.visit.context, remark=remark)
        return gas_out.settle_remainder(self.visit, act, self.form.facts, self.code, self.parts)[0]
