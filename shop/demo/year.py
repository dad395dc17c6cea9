"""The story of Port Ellery in 2025, played: thirty lines, which the tests know one by one."""

from uuid import UUID

from inventory.book import ledger
from shop.demo import cast, story
from shop.demo.furnish import open_workshop
from shop.demo.hands import G, Hands
from shop.demo.places import TOLD
from shop.models import Customer, Vehicle, Workshop

LINES = 30  # entries of the whole year
ROOT = UUID("5f0c4e0a-6f0e-4d53-9d3c-2f1f6a1d7a10")


def play() -> Workshop:
    """Create the workshop and play its whole year."""
    until = dict.fromkeys((*(name for name, *_ in TOLD.scales), *TOLD.gauges), cast.CALIBRATED_UNTIL)
    workshop = open_workshop(TOLD, ROOT, trained_since=cast.TRAINED_SINCE, checked_until=until)
    _vehicles(workshop)
    hands = Hands(workshop, ROOT, cast.CYLINDERS, cast.SUPPLIER)
    for event in story.YEAR:
        hands.play(event)
    hands.finish()
    return workshop


def _vehicles(workshop: Workshop) -> None:
    customer = Customer.objects.create(workshop=workshop, name="Aldous Penrake", phone="555 0167")
    fleet = Customer.objects.create(workshop=workshop, name="Ellery Lines", phone="555 0190")
    for registration, car in cast.VEHICLES.items():
        Vehicle.objects.create(
            account=ledger.open_account(workshop.book, "vehicle", registration),
            customer=fleet if car.vehicle_class == "bus" else customer,
            registration=registration,
            vehicle_class=car.vehicle_class,
            make_model=car.make_model,
            first_registered=car.registered,
            type_approved=car.approved,
            refrigerant=car.refrigerant,
            nameplate_mg=car.nameplate_g * G,
            volume_m3=car.litres * 1e-3,
            volume_source="estimate",
            oil_g=car.oil_g,
            typed={"nameplate": f"{car.nameplate_g} g", "volume": f"{car.litres} L"},
        )
