"""The mass book and what stands on its shelf.

Vocabulary: a **book** belongs to one workshop; an **entry** is one numbered line of it, with **movements** (mass
from one **account** to another) and **weighings**; a **holding** is the balance of an account, a copy that `verify`
proves. Mass is whole milligrams. Entries, movements and weighings are append-only in the database (`guards`);
they are written by `ledger` alone. `standing` says what stands, `likeness` what is alike, `access` who may do what.
Imports `causes` and `measure`; every wing above imports it.
"""

from inventory.models.begun import Begun
from inventory.models.book import Account, Book
from inventory.models.cylinders import AirCheck, Cylinder, Tare
from inventory.models.instruments import Gauge, Scale
from inventory.models.lines import Analysis, Entry, Holding, Movement, Remark, Weighing
from inventory.models.partners import Consignment, Partner, PartnerList
from inventory.models.photos import Photo
from inventory.models.totals import PeriodTotal
from inventory.models.trace import Trace

__all__ = [
    "Account",
    "AirCheck",
    "Analysis",
    "Begun",
    "Book",
    "Consignment",
    "Cylinder",
    "Entry",
    "Gauge",
    "Holding",
    "Movement",
    "Partner",
    "PartnerList",
    "PeriodTotal",
    "Photo",
    "Remark",
    "Scale",
    "Tare",
    "Trace",
    "Weighing",
]
