"""The workshop of the demonstration on its first morning: people, partners, scales, instruments and vehicles."""

from uuid import UUID

from django.db import transaction

from inventory.book import ledger
from inventory.models import Book, Gauge, Partner
from shop.demo import cast
from shop.models import Certification, Customer, Membership, User, Vehicle, Workshop

G = 1000  # milligrams


@transaction.atomic
def open_workshop(root: UUID, password: str | None) -> Workshop:
    """Create it all and return the workshop; `password` is that of all who sign in."""
    book = ledger.open_book(cast.NAME, cast.ZONE, root)
    workshop = Workshop.objects.create(book=book, slug=cast.SLUG, name=cast.NAME, zone=cast.ZONE, **cast.WORKSHOP)
    _people(workshop, password)
    for name, (kind, address, registration) in cast.PARTNERS.items():
        account = ledger.open_account(book, "partner", name)
        Partner.objects.create(account=account, name=name, kind=kind, address=address, registration=registration)
    _instruments(book)
    _vehicles(workshop)
    return workshop


def _people(workshop: Workshop, password: str | None) -> None:
    for user_name, (name, role) in cast.PEOPLE.items():
        trainee = user_name == cast.TRAINEE
        user = User(username=user_name, display_name=name, handle=f"p-{user_name}")
        user.set_password(None if trainee else password)
        user.save()
        enrolled = cast.TRAINED_SINCE if trainee else None
        Membership.objects.create(user=user, workshop=workshop, role=role, is_trainee=trainee, enrolled_on=enrolled)
        if number := cast.CERTIFIED.get(user_name):
            Certification.objects.create(user=user, number=number, **cast.CERTIFICATE)


def _instruments(book: Book) -> None:
    until = cast.CALIBRATED_UNTIL
    for name, (step_g, capacity_kg) in cast.SCALES.items():
        capacity_mg = capacity_kg * 1000 * G
        ledger.open_scale(book, name=name, step_mg=step_g * G, capacity_mg=capacity_mg, calibrated_until=until)
    for name, (kind, step, typed, absolute, accuracy) in cast.GAUGES.items():
        Gauge.objects.create(
            book=book,
            name=name,
            kind=kind,
            step=step,
            absolute=absolute,
            accuracy=accuracy,
            typed={"step": typed},
            calibrated_until=until,
        )


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
            refrigerant=car.refrigerant,
            nameplate_mg=car.nameplate_g * G,
            volume_m3=car.litres * 1e-3,
            volume_source="estimate",
            oil_g=car.oil_g,
            typed={"nameplate": f"{car.nameplate_g} g", "volume": f"{car.litres} L"},
        )
