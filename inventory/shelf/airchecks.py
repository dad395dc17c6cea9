"""Air in a cylinder, judged by pressure and temperature at rest and kept with the cylinder.

The physics is in `gases.purity`; here are the book's content, water capacity and gauge, the words, and the one door
by which a check is kept. Nothing moves: a check is no line of the book.
"""

import math
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from uuid import UUID

from django.db import transaction

from inventory.book import ledger
from inventory.book.holdings import Content
from inventory.book.refusals import LedgerError, RequestKeyReused
from inventory.gases import purity
from inventory.gases.catalogue import MIXED
from inventory.measure.figures import parted
from inventory.models import AirCheck, Cylinder, Gauge
from inventory.shelf import queries

REST_S = 12 * 3600.0
"""How long a cylinder stands before its pressure counts: 12 hours. Common practice, from memory; see `purity`."""

NOTHING_HELD = "By the book there is nothing in it. Weigh it first."
IS_MIXED = "It holds a mixture: there is no one saturation pressure to compare with."
IS_SUSPECT = (
    "What is in it is suspect: a pressure tells air from another refrigerant only where the refrigerant is certain. "
    "Identify it first."
)
NOT_SAID_WAITED = "How long it stood is not entered: its pressure says nothing about air before it has come to rest."
NOT_WAITED = "It stood {hours:.3g} hours, and 12 are asked: its pressure says nothing about air yet."
NOT_SHADED = "It did not stand out of the sun and away from heat: thermometer and content need not be equally warm."
NOT_SAID_SHADED = "Whether it stood out of the sun and away from heat is not entered."
ONLY_AN_IDENTIFIER = "An excess does not tell air from another refrigerant: only an identifier does."


@dataclass(frozen=True)
class AirReading:
    """What was read: pascal absolute, kelvin, seconds. None where it was not said; `typed` is kept as it was typed."""

    pressure_pa: float
    temperature_k: float
    waited_s: float | None
    shaded: bool | None
    gauge: Gauge | None
    typed: Mapping[str, str]


@dataclass(frozen=True)
class Judged:
    """The verdict of a reading, what it says in words, and the air in ppm by mass where there is an estimate."""

    verdict: str
    words: str
    air_ppm: float | None


def gauge_u_pa(gauge: Gauge | None) -> float:
    """Return the standard uncertainty of a gauge (Pa) from its step and limit; that of `purity` where none is known."""
    if gauge is None or not gauge.step:
        return purity.GAUGE_U_PA
    return math.hypot(gauge.step / math.sqrt(12), (gauge.accuracy or 0.0) / math.sqrt(3))


def obstacle(cylinder: Cylinder, content: Content, reading: AirReading) -> str:
    """Return why a reading can give no verdict whatever it says; empty where it can."""
    code, grade, _ = content
    if code == MIXED:
        return IS_MIXED
    if grade == "suspect" or cylinder.state == "suspect":
        return IS_SUSPECT
    if reading.waited_s is None:
        return NOT_SAID_WAITED
    if reading.waited_s < REST_S:
        return NOT_WAITED.format(hours=reading.waited_s / 3600)
    if reading.shaded is None:
        return NOT_SAID_SHADED
    return "" if reading.shaded else NOT_SHADED


def judge(cylinder: Cylinder, content: Content, reading: AirReading) -> Judged:
    """Judge a reading of a cylinder that holds `content` (refrigerant, grade, milligrams), by `purity.check_air`."""
    against = obstacle(cylinder, content, reading)
    if against:
        return Judged(purity.NO_VERDICT, against, None)
    code, _, held_mg = content
    found = purity.check_air(
        code,
        pressure_pa=reading.pressure_pa,
        temperature_k=reading.temperature_k,
        water_capacity_m3=cylinder.water_capacity_m3,
        contents_g=held_mg / 1000,
        u_pressure_pa=gauge_u_pa(reading.gauge),
    )
    below = found.excess_pa is not None and found.excess_pa < -purity.COVERAGE * (found.u_excess_pa or 0.0)
    estimate = None if below else found.estimate
    said = [found.reason]
    if found.table.from_memory and found.verdict in (purity.WITHIN_TABLE, purity.ABOVE_TABLE):
        said.append("The table’s row is from memory: check it against the printed one.")
    if estimate is not None:
        said.append(f"{estimate_words(estimate)}.".capitalize())
    elif cylinder.water_capacity_m3 is None:
        said.append("Its water capacity is not entered: no share of air can be estimated.")
    if found.bleeding_g_per_g is not None:
        said.append(
            f"Before it is bled: each gram of air that is let off takes at least {found.bleeding_g_per_g:.2g} g of "
            f"refrigerant with it. {ONLY_AN_IDENTIFIER}"
        )
    return Judged(found.verdict, " ".join(said), None if estimate is None else estimate.ppm_by_mass)


def estimate_words(estimate: purity.AirEstimate) -> str:
    """Return an estimate of air as words; one that the readings cannot tell from none is given by its upper end."""
    ppm, limit = estimate.ppm_by_mass, purity.COVERAGE * estimate.u_ppm_by_mass
    if ppm < limit:
        return f"no more than about {whole(ppm + limit)} ppm by mass, as far as these readings can tell"
    return f"about {whole(ppm)} ppm by mass, give or take {whole(limit)} ppm"


def whole(ppm: float) -> str:
    """Return a number to two figures, written out."""
    return parted(float(f"{ppm:.2g}")) if ppm >= 1 else f"{ppm:.1g}"


def headline(check: AirCheck) -> str:
    """Return the shortest that is true of a check: its share of air where that is the point, else its verdict."""
    shows_air = check.verdict in (purity.ABOVE_TABLE, purity.AIR_OR_ANOTHER)
    if check.air_ppm is not None and shows_air:
        return f"about {whole(check.air_ppm)} ppm by mass: {check.verdict}"
    return check.verdict


@transaction.atomic
def note_air_check(
    cylinder: Cylinder, reading: AirReading, *, key: UUID, actor: str, occurred_at: datetime
) -> tuple[AirCheck, bool]:
    """Judge a reading by what the book holds and keep it with the cylinder; returns it, and whether it is new.

    The same key with the same reading is kept once. Raises `RequestKeyReused` where the key was used for another
    reading or cylinder, and `LedgerError` where the book has nothing in the cylinder.
    """
    ledger.lock(cylinder.account.book)
    before = AirCheck.objects.filter(request_key=key).first()
    typed = dict(reading.typed)
    if before is not None:
        if before.account_id != cylinder.account_id or before.typed != typed or before.actor != actor:
            raise RequestKeyReused("This form was sent before with another reading. Open the page anew.")
        return before, False
    content = queries.content_of(cylinder.account)
    if content is None:
        raise LedgerError(NOTHING_HELD)
    judged = judge(cylinder, content, reading)
    check = AirCheck.objects.create(
        account=cylinder.account,
        occurred_at=occurred_at,
        actor=actor,
        request_key=key,
        refrigerant=content[0],
        pressure_pa=reading.pressure_pa,
        temperature_k=reading.temperature_k,
        waited_s=reading.waited_s,
        shaded=reading.shaded,
        held_mg=content[2],
        typed=typed,
        verdict=judged.verdict,
        words=judged.words,
        air_ppm=judged.air_ppm,
    )
    return check, True
