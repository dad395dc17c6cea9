"""Port Ellery, an invented place, and whom and what its story needs: people, partners, instruments, cylinders, cars."""

from dataclasses import dataclass
from datetime import date

from inventory.models import Cylinder

NAME, SLUG, ZONE = "Port Ellery", "port-ellery", "Etc/GMT-2"
OWNER, TECHNICIAN, TRAINEE, READER = "owner", "technician", "trainee", "reader"
SIGN_INS = (OWNER, TECHNICIAN, READER)
SUPPLIER, RECLAIMER, DESTROYER = "Harbour Gas Supply", "Greyfen Reclaim", "Northmoor Destruction"
CALIBRATED_UNTIL, TESTED_UNTIL = date(2026, 3, 1), date(2031, 5, 1)

NOT_ASKED = ["spot-check"]  # which visits are chosen hangs on salts, and every run is to be the same
WORKSHOP = {
    "altitude_m": 0.0,
    "address": "Slipway Yard 3\nPort Ellery",
    "phone": "(0) 555 0142",
    "registration": "W-2207",
    "jurisdiction": "eu",
    "gwp_basis": "EU",
    "not_asked": NOT_ASKED,
}
PEOPLE = {
    OWNER: ("Maren Ostrava", "owner"),
    TECHNICIAN: ("Tobin Falk", "technician"),
    TRAINEE: ("Ilse Wren", "technician"),
    READER: ("Corin Vale", "reader"),
}
TRAINED_SINCE = date(2024, 9, 2)
CERTIFICATE = {
    "scheme": "training attestation, vehicle air conditioning",
    "issuer": "Ellery Trade School",
    "issued_on": date(2021, 4, 12),
    "expires_on": date(2028, 4, 12),
    "category": "M1",
    "scope": "recovery and service, type M1",
}
CERTIFIED = {OWNER: "PE-0311", TECHNICIAN: "PE-0874"}
PARTNERS = {  # kind, address, registration
    SUPPLIER: ("supplier", "4 Quay Row, Port Ellery", "S-1180"),
    RECLAIMER: ("reclaimer", "Fen Works, Greyfen", "R-0042"),
    DESTROYER: ("destruction facility", "Kiln Lane 1, Northmoor", "D-0007"),
}
SCALES = {"S1": (5, 100), "S2": (2, 50)}  # step in grams, capacity in kilograms
GAUGES = {  # kind, step in pascal or as its kind has it, as typed, absolute, accuracy in kelvin
    "G1": ("pressure gauge", 6894.757, "1 psi", False, None),
    "G2": ("vacuum gauge", 10.0, "0.1 mbar", True, None),
    "TH1": ("thermometer", 1.0, "1 C", False, 0.5),
    "ID1": ("identifier", None, "", False, None),
    "L1": ("leak detector", 5.0, "5 g a year", False, None),
}


@dataclass(frozen=True)
class Bottle:
    """A cylinder: empty mass in grams, water capacity in litres; `stamped`: the empty mass is that of its stamp."""

    refrigerant: str
    grade: str
    tare_g: int
    litres: float | None
    kind: str
    stamped: bool = False
    tested_until: date = TESTED_UNTIL
    place: str = ""
    certified_on: date | None = None  # of a machine, to the authority


@dataclass(frozen=True)
class Car:
    """A vehicle: its label in grams, inside volume in litres (an estimate), oil in grams."""

    make_model: str
    refrigerant: str
    nameplate_g: int
    litres: float
    oil_g: float
    tolerance_g: int | None = None
    vehicle_class: str = "car"
    registered: date | None = None
    approved: date | None = None  # its type


CYLINDERS = {
    "C-12": Bottle("R-12", "recovered", 6850, 11.9, Cylinder.RECOVERY),
    "C-35": Bottle("R-134a", "recovered", 6360, 12.0, Cylinder.RECOVERY),
    "C-41": Bottle("R-134a", "recovered", 7000, 10.0, Cylinder.RECOVERY),
    "C-42": Bottle("R-134a", "recovered", 13600, 25.0, Cylinder.RECOVERY),
    "C-40": Bottle("R-134a", "suspect", 5300, 6.0, Cylinder.RECOVERY),
    "C-37": Bottle("R-1234yf", "virgin", 3100, 4.0, Cylinder.SINGLE_TRIP),
    "C-34": Bottle("R-134a", "virgin", 6200, 12.0, Cylinder.REFILLABLE, stamped=True),
    "C-44": Bottle("R-134a", "virgin", 6200, 12.0, Cylinder.REFILLABLE, stamped=True),
    "T-1": Bottle("R-134a", "recycled", 0, None, Cylinder.TANK),
}
VEHICLES = {
    "V1": Car("hatchback, 1992", "R-12", 900, 2.0, 200, 25),
    "V2": Car("estate, 1989", "R-12", 1100, 2.2, 200),
    "V3": Car("crossover, 2019", "R-1234yf", 480, 1.5, 110, 15),
    "V4": Car("saloon, 2011", "R-134a", 550, 1.6, 130, 15),
    "V5": Car("saloon, 2012", "R-134a", 550, 1.6, 130, 15),
    "V7": Car(*("van, 2014", "R-134a", 610, 1.8, 150), registered=date(2014, 10, 7), approved=date(2010, 6, 17)),
    "V8": Car("estate, 2009", "R-134a", 585, 1.7, 140),
    "V9": Car("saloon, 2010", "R-134a", 650, 1.8, 140),
    "V-BUS": Car("city bus", "R-134a", 7000, 12.0, 600, 100, vehicle_class="bus"),
}
