"""The workshop: people, vehicles and visits."""

from shop.models.imports import ImportJob, SheetMatching
from shop.models.keeping import Backup
from shop.models.people import Certification, Membership, User
from shop.models.vehicles import Conversion, Customer, Joining, Vehicle
from shop.models.visits import Step, Visit
from shop.models.watches import Watch, WatchReading
from shop.models.workshop import InstrumentCheck, Workshop

__all__ = [
    "Backup",
    "Certification",
    "Conversion",
    "Customer",
    "ImportJob",
    "InstrumentCheck",
    "Joining",
    "Membership",
    "SheetMatching",
    "Step",
    "User",
    "Vehicle",
    "Visit",
    "Watch",
    "WatchReading",
    "Workshop",
]
