"""Three invented places where a workshop stands, each with the people, units, gases and rules of its part of the world.

`TOLD` is Port Ellery as the told story of 2025 has it; the others are built for the last day of their year.
"""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date, timedelta
from decimal import Decimal
from typing import Any

from inventory.measure.displays import Step
from inventory.models import Cylinder
from shop.demo import cast
from shop.demo.cast import DESTROYER, OWNER, READER, RECLAIMER, SUPPLIER, TECHNICIAN, TRAINEE, Bottle
from shop.people.certificates import SECTION_609

OUNCE_G = 28.349_523_125
NOT_ASKED = [*cast.NOT_ASKED, "pressure-hold", "running-test", "oil-balance"]
NOT_ASKED += ["recovery/start", "pulling-vacuum/start", "pulling-vacuum/end"]


@dataclass(frozen=True)
class Say:
    """How quantities are typed here."""

    mass: str = "g"
    pressure: str = "bar"
    temperature: str = "C"
    vacuum: str = "mbar"

    def grams(self, grams: float) -> str:
        """Return a small mass as it is typed."""
        return f"{grams / OUNCE_G:.1f} oz" if self.mass == "oz" else f"{grams:.0f} g"

    def pascal(self, gauge_pa: float) -> str:
        """Return a pressure above the air."""
        return f"{gauge_pa / 6894.757:.0f} psi" if self.pressure == "psi" else f"{gauge_pa / 1e5:.1f} bar"

    def celsius(self, celsius: float) -> str:
        """Return a temperature."""
        return f"{celsius * 1.8 + 32:.0f} F" if self.temperature == "F" else f"{celsius:.0f} C"

    def millibar(self, mbar: float) -> str:
        """Return a pressure near nothing."""
        return f"{mbar * 750.06:.0f} micron" if self.vacuum == "micron" else f"{mbar:.1f} mbar"

    def road(self, shown: int) -> str:
        """Return what an odometer shows."""
        return f"{shown} {'mi' if self.mass == 'oz' else 'km'}"

    def oil(self, ml: float) -> str:
        """Return an amount of oil."""
        return f"{ml / 29.573_5:.1f} fl oz" if self.mass == "oz" else f"{ml:.0f} mL"


@dataclass(frozen=True)
class Place:
    """A workshop and what is usual there."""

    name: str
    slug: str
    zone: str
    workshop: Mapping[str, Any]
    people: Mapping[str, tuple[str, str]]
    certificates: Mapping[str, Sequence[Mapping[str, Any]]]
    partners: Mapping[str, tuple[str, str, str]]
    scales: Sequence[tuple[str, Step, int]]
    gauges: Mapping[str, tuple[str, float | None, str, bool, float | None]]
    supplier: str = SUPPLIER
    reclaimer: str = RECLAIMER
    destroyer: str = DESTROYER
    buyer: str = ""
    say: Say = field(default_factory=Say)
    bought: Mapping[str, tuple[Bottle, int]] = field(default_factory=dict)  # by gas: the cylinder, and its net grams
    recovery: Bottle = cast.CYLINDERS["C-35"]
    large: Bottle = cast.CYLINDERS["C-42"]
    plate: str = ""  # A a letter, 0 a digit
    customers: Sequence[str] = ()
    newer_gas: float = 0.0  # share of cars built for R-1234yf
    older_until: int = 2016  # the last year in which cars were built for R-134a
    warmest_month: int = 7
    coldest_c: float = 12.0


def metric(name: str, step_g: int, capacity_kg: int) -> tuple[str, Step, int]:
    """Return a scale that shows grams or kilograms."""
    return name, Step(Decimal(step_g), "g"), capacity_kg * 1_000_000


def in_pounds(name: str, number: str, unit: str, capacity_lb: int) -> tuple[str, Step, int]:
    """Return a scale that shows pounds, or pounds and ounces."""
    return name, Step(Decimal(number), unit), round(capacity_lb * 16 * OUNCE_G * 1000)


TOLD = Place(
    name=cast.NAME,
    slug=cast.SLUG,
    zone=cast.ZONE,
    workshop=cast.WORKSHOP,
    people=cast.PEOPLE,
    certificates={who: [{**cast.CERTIFICATE, "number": number}] for who, number in cast.CERTIFIED.items()},
    partners=cast.PARTNERS,
    scales=[metric(name, step, capacity) for name, (step, capacity) in cast.SCALES.items()],
    gauges=cast.GAUGES,
)


def held(until: date, number: str, *, for_days: int, **facts: Any) -> list[Mapping[str, Any]]:
    """Return a certificate that runs out so many days after the last day of the year, seven years after its issue."""
    expires = until + timedelta(days=for_days)
    return [{"number": number, "issued_on": expires - timedelta(days=7 * 365), "expires_on": expires, **facts}]


def port_ellery(until: date) -> Place:
    """Return the European one."""
    facts = {one: cast.CERTIFICATE[one] for one in ("scheme", "category", "issuer", "scope")}
    return replace(
        TOLD,
        workshop={**cast.WORKSHOP, "not_asked": NOT_ASKED},
        partners={**cast.PARTNERS, "Dockside Motors": ("customer", "11 Quay Row, Port Ellery", "W-2260")},
        buyer="Dockside Motors",
        certificates={
            OWNER: held(until, "PE-0311", for_days=1_290, **facts),
            TECHNICIAN: held(until, "PE-0874", for_days=38, **facts),
        },
        bought={
            "R-134a": (Bottle("R-134a", "virgin", 6200, 12.0, Cylinder.REFILLABLE, stamped=True), 11_000),
            "R-1234yf": (Bottle("R-1234yf", "virgin", 5100, 6.5, Cylinder.REFILLABLE, stamped=True), 5_000),
        },
        plate="PE-000-AA",
        customers=(
            "Aldous Penrake", "Ellery Lines", "Greta Holm", "Isak Torvund", "Baker Quill", "Marit Sand", "Olen Farrow",
            "Petra Kvist", "Quayside Taxis", "Rolf Anders", "Sanna Weir", "Tarn Delivery", "Ulla Brink", "Wim Arden",
        ),
        newer_gas=0.4,
    )  # fmt: skip


HELD_SINCE = ((OWNER, "CC-609-118", 4_100), (TECHNICIAN, "CC-609-377", 1_630), (TRAINEE, "CC-609-402", 356))


def cinder_creek(until: date) -> Place:
    """Return the one in the United States."""
    facts = {
        "scheme": "Section 609 technician",
        "category": SECTION_609,
        "issuer": "Prairie Trade Council",
        "scope": "motor vehicle air conditioning",
        "never_expires": True,
    }
    certificates: dict[str, list[Mapping[str, Any]]] = {
        who: [{"number": number, "issued_on": until - timedelta(days=days), **facts}]
        for who, number, days in HELD_SINCE
    }
    return Place(
        name="Cinder Creek",
        slug="cinder-creek",
        zone="Etc/GMT+6",
        workshop={
            "altitude_m": 320.0,
            "address": "118 Foundry Road\nCinder Creek",
            "phone": "555 0118",
            "registration": "CC-4471",
            "state_licence": "RS-20418",
            "state_licence_until": until + timedelta(days=212),
            "jurisdiction": "us",
            "not_asked": NOT_ASKED,
            "gwp_basis": "AR6",
            "mass_unit": "lb oz",
            "pressure_unit": "psi",
            "vacuum_unit": "micron",
            "temperature_unit": "F",
            "volume_unit": "fl oz",
            "day_order": "mdy",
        },
        people={
            OWNER: ("Dana Whitlock", "owner"),
            TECHNICIAN: ("Marcus Tole", "technician"),
            TRAINEE: ("Ivy Brandt", "technician"),
            READER: ("Lorne Pace", "reader"),
        },
        certificates=certificates,
        partners={
            "Dry Fork Refrigerants": ("supplier", "40 Depot Street, Dry Fork", "DF-212"),
            "Mesa Reclaim": ("reclaimer", "9 Kiln Road, Mesa Flat", "MR-031"),
            "Basin Destruction": ("destruction facility", "1 Furnace Way, Basin", "BD-006"),
            "Dry Fork Garage": ("customer", "77 Depot Street, Dry Fork", "DF-340"),
        },
        scales=[in_pounds("S1", "0.02", "lb", 220), in_pounds("S2", "0.2", "lb oz", 110)],
        gauges={
            "G1": ("pressure gauge", 6894.757, "1 psi", False, None),
            "G2": ("vacuum gauge", 1.33322, "10 micron", True, None),
            "TH1": ("thermometer", 0.5556, "1 F", False, 0.6),
            "ID1": ("identifier", None, "", False, None),
            "L1": ("leak detector", 5.0, "5 g a year", False, None),
        },
        supplier="Dry Fork Refrigerants",
        reclaimer="Mesa Reclaim",
        destroyer="Basin Destruction",
        buyer="Dry Fork Garage",
        say=Say("oz", "psi", "F", "micron"),
        bought={
            "R-134a": (Bottle("R-134a", "virgin", 2900, 14.6, Cylinder.SINGLE_TRIP, stamped=True), 13_608),
            "R-1234yf": (Bottle("R-1234yf", "virgin", 2700, 5.8, Cylinder.SINGLE_TRIP, stamped=True), 4_536),
        },
        recovery=Bottle("R-134a", "recovered", 7300, 11.9, Cylinder.RECOVERY),
        large=Bottle("R-134a", "recovered", 12_600, 21.6, Cylinder.RECOVERY),
        plate="0AA-000",
        customers=(
            "Abel Norcross", "Birch County Transit", "Carla Dunmore", "Dell Hauling", "Edie Marsh", "Frank Ostler",
            "Gwen Tabor", "Hollis Feed", "Ines Corwin", "Jory Plank", "Kay Renfro", "Lou Sandoval", "Mabel Irons",
        ),
        newer_gas=0.45,
        older_until=2018,
        coldest_c=14.0,
    )  # fmt: skip


def neelgarh(until: date) -> Place:
    """Return the Indian one."""
    facts = {
        "scheme": "servicing training, vehicle air conditioning",
        "issuer": "Neelgarh Training Institute",
        "scope": "recovery and service",
    }
    return Place(
        name="Neelgarh",
        slug="neelgarh",
        zone="Asia/Kolkata",
        workshop={
            "altitude_m": 210.0,
            "address": "Plot 17, Motor Lane\nNeelgarh",
            "phone": "555 0177",
            "registration": "NG-0912",
            "jurisdiction": "in",
            "not_asked": NOT_ASKED,
            "gwp_basis": "AR6",
            "pressure_unit": "psi",
            "vacuum_unit": "micron",
            "day_order": "dmy",
        },
        people={
            OWNER: ("Meera Sandhal", "owner"),
            TECHNICIAN: ("Arun Velkar", "technician"),
            TRAINEE: ("Tanvi Rane", "technician"),
            READER: ("Joseph Mathan", "reader"),
        },
        certificates={
            OWNER: held(until, "NTI-204", for_days=900, **facts),
            TECHNICIAN: held(until, "NTI-655", for_days=38, **facts),
        },
        partners={
            "Sagar Gas Agency": ("supplier", "3 Station Road, Neelgarh", "SG-118"),
            "Deccan Reclaim": ("reclaimer", "Shed 9, Industrial Area, Kolpur", "DR-022"),
            "Kolpur Destruction": ("destruction facility", "Kiln Area, Kolpur", "KD-004"),
            "Lakeside Motors": ("customer", "22 Lake Road, Neelgarh", "NG-0940"),
        },
        scales=[metric("S1", 5, 100), metric("S2", 2, 50)],
        gauges=cast.GAUGES,
        supplier="Sagar Gas Agency",
        reclaimer="Deccan Reclaim",
        destroyer="Kolpur Destruction",
        buyer="Lakeside Motors",
        say=Say("g", "psi", "C", "micron"),
        bought={
            "R-134a": (Bottle("R-134a", "virgin", 2900, 14.6, Cylinder.SINGLE_TRIP, stamped=True), 13_600),
            "R-1234yf": (Bottle("R-1234yf", "virgin", 2700, 5.8, Cylinder.SINGLE_TRIP, stamped=True), 4_500),
        },
        plate="NG-00-A-0000",
        customers=(
            "Asha Pillay", "Bharat Travels", "Chetan Oak", "Devika Nair", "Farid Khot", "Gauri Tours", "Hemant Joglar",
            "Indu Varkey", "Jaya Transport", "Kiran Sule", "Leela Dastur", "Mohan Bhide", "Nandini Kale",
        ),
        newer_gas=0.06,
        older_until=2024,
        warmest_month=5,
        coldest_c=22.0,
    )  # fmt: skip


PLACES: Mapping[str, Callable[[date], Place]] = {"eu": port_ellery, "us": cinder_creek, "in": neelgarh}
