"""The fields that may be asked of a cylinder that comes in; `shelf.origins.Way` says which of them are."""

from django import forms

from inventory.causes import GRADES
from inventory.models import Cylinder
from inventory.pages.fields.day import DayField
from inventory.pages.fields.quantity import MassField, PressureField, WaterCapacityField
from inventory.pages.fields.scale import ScaleField
from inventory.pages.forms.act import BookForm
from inventory.pages.forms.parts import CHOOSE, choice, text
from inventory.pages.forms.stamps import serial_field
from inventory.shelf.origins import MANNER_WORDS, SINGLE

STAMP_GOOD_TO = {"kg": "50 g", "lb": "1.8 oz"}  # common practice for a stamped tare, no source; another may be entered
UNKNOWN_LIMIT = (
    "Neither can be read? Leave both empty: then no filling limit is known, and nothing warns before it is full."
)


class ReceiveFields(BookForm):
    """All that is asked of one kind or another, from one origin or another."""

    origin = forms.CharField(widget=forms.HiddenInput)
    kind = forms.CharField(widget=forms.HiddenInput)
    partner = choice("From whom", (), error_messages={"required": "Choose from whom it comes."})
    serial = serial_field()
    refrigerant = choice("What is in it", (), what="refrigerant")
    grade = choice("Grade", [CHOOSE, *((grade, grade) for grade in GRADES)])
    gross = MassField(label="Gross now", what="gross mass", required=False, from_scale=True)
    scale = ScaleField((), required=False)
    tare = MassField(label="Empty mass", what="empty mass", help_text="Stamped as TW or T on the collar, or measured.")
    water_capacity = WaterCapacityField(
        label="Water capacity",
        what="water capacity",
        required=False,
        optional_words="(or the filling limit)",
        help_text="Stamped as WC, in litres or in pounds of water.",
    )
    filling_limit = MassField(
        label="Filling limit as stamped",
        what="filling limit",
        required=False,
        optional_words="(or the water capacity)",
        help_text=UNKNOWN_LIMIT,
    )
    paper_number = text("Number of the paper", required=False)
    paper_mass = MassField(label="Mass on the paper", what="mass on the paper", required=False)
    can_count = forms.IntegerField(
        label="Cans",
        min_value=1,
        max_value=100_000,
        error_messages={"required": "Enter how many cans there are."},
    )
    can_content = MassField(
        label="Content of each can",
        what="content of a can",
        units=("g", "oz"),
        default_unit="g",
        error_messages={"required": "Enter what one can holds."},
    )
    machine_mass = MassField(
        label="Mass that the machine shows",
        what="mass shown",
        error_messages={"required": "Enter the mass that the machine shows."},
    )
    machine_limit = MassField(
        label="Machine good to, give or take",
        what="limit of the machine",
        units=("g", "oz"),
        default_unit="g",
        error_messages={"required": "Enter the limit of error that the machine’s maker states."},
    )
    recycles = forms.BooleanField(label="The machine recycles this refrigerant to its standard", required=False)
    stood_before = forms.BooleanField(label="It did stand here before the book’s first day", required=False)
    manner = choice("How its content is known", list(MANNER_WORDS.items()), radio=True, required=False, initial=SINGLE)
    tare_source = choice(
        "How the empty mass is known",
        [(one, one) for one in Cylinder.TARE_SOURCES if one != Cylinder.RECKONED],
    )
    tare_limit = MassField(
        label="Empty mass good to, give or take",
        what="limit of the empty mass",
        units=("g", "kg", "oz", "lb"),
        default_unit="g",
        required=False,
        initial=STAMP_GOOD_TO["kg"],
        help_text="Left as it is, what a stamp is commonly good to. It goes into what the readings can tell.",
    )
    service_pressure = PressureField(label="Service pressure", what="service pressure", required=False)
    requalify_by = DayField(label="Next test date", required=False, help_text="Past it, nothing is filled in.")
    can_limit = MassField(
        label="Content good to, give or take, each",
        what="tolerance of a can",
        units=("g", "oz"),
        default_unit="g",
        required=False,
    )
    place = text("Where it stands", required=False)
    note = text("Note", required=False, long=True)
