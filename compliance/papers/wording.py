"""How a document writes masses, days and people, and what every builder asks of a workshop first.

Everything stands in the units of the workshop, whoever issues it, times in its zone. What is not there is said: "not
entered".
"""

from dataclasses import dataclass
from datetime import date, datetime
from zoneinfo import ZoneInfo

from compliance.papers.paper import Issuer, NothingToIssue
from inventory.measure.displays import columned, in_book, in_words
from inventory.measure.figures import parted
from inventory.measure.own import Units
from inventory.output.days import NOT_ENTERED
from shop.models import Workshop


@dataclass(frozen=True)
class Wording:
    """The units and the zone in which one document is written."""

    units: Units
    zone: ZoneInfo

    @property
    def unit(self) -> str:
        """The unit of a column of masses, as its head says it."""
        return in_words(self.units.column)

    def mass(self, mass_mg: float, *, signed: bool = False) -> str:
        """Return a mass with its unit, such as "3.358 kg"."""
        said = in_book(round(mass_mg), self.units.mass)
        return f"+{said}" if signed and mass_mg > 0 else said

    def mass_entered(self, mass_mg: int | None) -> str:
        """Return a mass with its unit, or that it was not entered."""
        return NOT_ENTERED if mass_mg is None else self.mass(mass_mg)

    def number(self, mass_mg: float, *, signed: bool = False) -> str:
        """Return a mass without its unit, for a column whose head says it; `signed` puts a plus before a gain."""
        return columned(round(mass_mg), self.units.column, signed=signed)

    def give_or_take(self, u_mg: float) -> str:
        """Return two standard uncertainties as "give or take 0.061 kg"."""
        return f"give or take {self.mass(2 * u_mg)}"

    def on(self, day: date | None) -> str:
        """Return a day, or that it was not entered."""
        return NOT_ENTERED if day is None else self.units.day_said(day)

    def day(self, moment: datetime) -> str:
        """Return the workshop's day of a moment."""
        return self.on(moment.astimezone(self.zone).date())

    def when(self, moment: datetime) -> str:
        """Return a moment to the minute."""
        return self.units.when_said(moment.astimezone(self.zone))


def wording_of(workshop: Workshop) -> Wording:
    """Return how the documents of a workshop are written."""
    return Wording(workshop.units, ZoneInfo(workshop.zone))


def issuer_of(workshop: Workshop) -> Issuer:
    """Return whose document it is."""
    return Issuer(workshop.name, workshop.address, workshop.phone, workshop.registration)


def entered(text: str) -> str:
    """Return a text, or that it was not entered."""
    return text.strip() or NOT_ENTERED


def lower_first(sentence: str) -> str:
    """Return a sentence as it goes on after a comma."""
    return sentence[:1].lower() + sentence[1:]


def counted(count: int, noun: str, plural: str = "") -> str:
    """Return a count with its noun: "1 line", "37 lines"."""
    return f"{parted(count)} {noun if count == 1 else plural or noun + 's'}"


def number_in(about: str, kind: str) -> int:
    """Return the number of a record named as ``kind:number``; raises NothingToIssue where it is none."""
    name, _, text = about.partition(":")
    if name != kind or not text.isascii() or not text.isdigit() or len(text) > 18:
        raise NothingToIssue(f"{about} names no {kind}.")
    return int(text)
