"""The inside volume of a vehicle's system, as far as anybody knows it, and the ranges by class that stand in for it."""

from collections.abc import Mapping
from typing import Any

from django import forms
from django.core.exceptions import ValidationError

from inventory.measure.own import Units
from inventory.measure.spoken import in_own_units
from inventory.measure.typed import Typed
from inventory.pages.fields.quantity import VolumeField
from inventory.pages.fields.sent import INSISTED, Choice, Sent
from inventory.pages.forms.act import PlainForm
from inventory.pages.forms.parts import choice, si_of, text, typed_of
from shop.bench.insides import CLASS_OF, RANGES_M3, litres
from shop.models import Vehicle, Workshop
from shop.visits.inputs import ranges_of

Ranges = Mapping[str, tuple[float, float]]

HOW = (
    ("", "not entered"),
    ("the maker’s figure", "the maker’s figure"),
    ("measured", "measured: gas of known mass or pressure let in"),
    ("estimated here", "our own estimate"),
    ("another source", "another source"),
)
CLASS_WORDS = {"car": "Car", "van": "Van, or a second evaporator", "machine": "Farm or building machine", "bus": "Bus"}
OUTSIDE = "An inside volume lies between 0.01 and 1000 L. Look at both figures."
ENDS = ("low", "high")
SLIPS = (10.0, 0.1, 100.0, 0.01, 1000.0, 0.001)
LEAST_M3, MOST_M3 = 1e-5, 1.0  # what any circuit of a vehicle holds


class InsideForm(PlainForm):
    """What is known of the inside volume: the class of the vehicle, or litres with how they were found."""

    vehicle_class = choice("Class", [(one, one) for one in Vehicle.CLASSES])
    volume = VolumeField(
        label="Inside volume",
        what="inside volume",
        units=("L", "cc"),
        required=False,
        help_text="Leave it empty where nobody knows it: the range of the class is then reckoned with.",
    )
    off = VolumeField(
        label="How far it may be off, either way",
        what="how far it may be off",
        units=("L", "cc"),
        required=False,
    )
    how = choice("How it was found", HOW, required=False)
    where = text("Where it stands, or how it was measured", required=False, max_length=80)

    def __init__(self, *args: Any, ranges: Ranges, **options: Any) -> None:
        self.ranges = ranges
        super().__init__(*args, **options)

    @staticmethod
    def initial_of(vehicle: Vehicle) -> dict[str, Any]:
        """Return what stands in the form."""
        initial: dict[str, Any] = {"vehicle_class": vehicle.vehicle_class}
        if vehicle.volume_m3:
            initial["volume"] = vehicle.typed.get("volume") or f"{vehicle.volume_m3 * 1000:.10g} L"
            how, _, where = vehicle.volume_source.partition(": ")
            known = how in {name for name, _ in HOW}
            initial |= {"how": how, "where": where} if known else {"where": vehicle.volume_source}
        if vehicle.volume_off_m3:
            initial["off"] = f"{vehicle.volume_off_m3 * 1000:.10g} L"
        return initial

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or self.cleaned_data
        volume, off = cleaned.get("volume"), cleaned.get("off")
        if volume is None:
            return cleaned
        if not cleaned.get("how"):
            self.add_error("how", "Say how the volume was found: it decides what can be said from it.")
        if off is not None and off.si >= volume.si:
            self.add_error("off", "It cannot be off by as much as it is. Look at both figures.")
        self._ask_about(volume, cleaned.get("vehicle_class") or "car")
        return cleaned

    def _ask_about(self, volume: Typed, vehicle_class: str) -> None:
        """Refuse a volume that no circuit has; ask about one that its class does not seem to have."""
        sent: Sent = self["volume"].data
        low, high = self.ranges[CLASS_OF.get(vehicle_class, "car")]
        likely = [Choice(f"{litres(one)} L", self.spoken(f"{litres(one)} L")) for one in _slips(volume.si, low, high)]
        if not LEAST_M3 <= volume.si <= MOST_M3:
            said = self.spoken(
                f"{litres(volume.si)} L is no inside volume of a vehicle’s air conditioning. Read the figure again."
            )
            self.add_error("volume", ValidationError(said, code="doubt", params={"choices": likely}))
        elif not low <= volume.si <= high and not sent.insisted:
            said = self.spoken(
                f"{litres(volume.si)} L is outside the {litres(low)} to {litres(high)} L that such vehicles seem to "
                "have. Is it so?"
            )
            own = self.spoken(f"{litres(volume.si)} L")
            choices = [*likely, Choice(f"{INSISTED}{sent.said} {volume.unit}", f"It is {own}")]
            self.add_error("volume", ValidationError(said, code="doubt", params={"choices": choices}))

    def facts(self, vehicle: Vehicle) -> dict[str, Any]:
        """Return the vehicle's columns."""
        cleaned = self.cleaned_data
        volume, off = cleaned["volume"], cleaned["off"]
        typed = {name: said for name, said in vehicle.typed.items() if name != "volume"}
        source = ": ".join(filter(None, (cleaned["how"], cleaned["where"].strip()))) if volume else ""
        return {
            "vehicle_class": cleaned["vehicle_class"],
            "volume_m3": si_of(volume),
            "volume_off_m3": off.si if volume and off else None,
            "volume_source": source[:120],
            "typed": {**typed, "volume": typed_of(volume)} if volume else typed,
        }


def _slips(volume_m3: float, low: float, high: float) -> list[float]:
    """Return what was likely meant where a decimal or a unit slipped: what then lies in the range of the class."""
    return [volume_m3 * by for by in SLIPS if low <= volume_m3 * by <= high][:2]


class _RangesForm(PlainForm):
    """The range of inside volumes of each class; an empty pair takes the estimate that the tool brings."""

    def __init__(self, *args: Any, ranges: Ranges, **options: Any) -> None:
        super().__init__(*args, **options)
        for name in RANGES_M3:
            for end, value in zip(ENDS, ranges[name], strict=True):
                self.initial[f"{name}_{end}"] = standing = self.units.volume_typed(value)
                field = self.fields[f"{name}_{end}"]
                assert isinstance(field, VolumeField)  # noqa: S101 - for the type
                field.stands = standing

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or self.cleaned_data
        for name in RANGES_M3:
            low, high = cleaned.get(f"{name}_low"), cleaned.get(f"{name}_high")
            if low is None or high is None:
                if (low is None) != (high is None) and not {f"{name}_low", f"{name}_high"} & set(self.errors):
                    self.add_error(f"{name}_{'low' if low is None else 'high'}", "Enter both ends, or neither.")
            elif not LEAST_M3 <= low.si <= MOST_M3 or not LEAST_M3 <= high.si <= MOST_M3:
                self.add_error(f"{name}_high", self.spoken(OUTSIDE))
            elif low.si >= high.si:
                self.add_error(f"{name}_high", "The most must be more than the least. Look at both figures.")
        return cleaned

    def changed(self) -> dict[str, list[float]]:
        """Return the ranges that are not those the tool brings, in cubic metres."""
        found = {}
        for name, brought in RANGES_M3.items():
            low, high = self.cleaned_data[f"{name}_low"], self.cleaned_data[f"{name}_high"]
            if low is not None and (low.si, high.si) != tuple(brought):
                found[name] = [low.si, high.si]
        return found


def ranges_said(workshop: Workshop, units: Units) -> list[tuple[str, str]]:
    """Return each class with its range in words, and whether the workshop has set it."""
    own = workshop.inside_ranges
    return [
        (
            CLASS_WORDS.get(name, name.capitalize()),
            in_own_units(f"{litres(low)} to {litres(high)} L", units) + (", as set here" if name in own else ""),
        )
        for name, (low, high) in ranges_of(workshop).items()
    ]


def _end_field(name: str, end: str) -> forms.Field:
    words = f"{CLASS_WORDS.get(name, name.capitalize())}, {'least' if end == 'low' else 'most'}"
    return VolumeField(label=words, what="inside volume", units=("L", "cc"), required=False)


_ENDS_OF_ALL = {f"{name}_{end}": _end_field(name, end) for name in RANGES_M3 for end in ENDS}
RangesForm: type[_RangesForm] = type("RangesForm", (_RangesForm,), dict(_ENDS_OF_ALL))
