"""Vehicles as the book has them: entered, put right, gone for good; and what the book has in one."""

from typing import Any

from django.db import transaction

from inventory import causes
from inventory.book import ledger
from inventory.book.draft import Draft, Line
from inventory.book.holdings import Balances
from inventory.book.ledger import Act
from inventory.book.refusals import Refused
from inventory.models import Account, Entry
from shop.models import Vehicle, Workshop
from shop.people.identity import COLUMNS, refuse_second


def add_vehicle(workshop: Workshop, **facts: Any) -> Vehicle:
    """Enter a vehicle, with an account of its own in the book."""
    with transaction.atomic(durable=True):
        return new_vehicle(workshop, **facts)


def new_vehicle(workshop: Workshop, **facts: Any) -> Vehicle:
    """Enter a vehicle within a transaction of the caller's; refuses one that is there already."""
    ledger.lock(workshop.book)
    refuse_second(workshop.book, facts["registration"], facts.get("vin", ""))
    account = ledger.open_account(workshop.book, causes.VEHICLE, facts["registration"])
    return Vehicle.objects.create(account=account, **facts)


def change_vehicle(vehicle: Vehicle, **facts: Any) -> None:
    """Put right what a vehicle is; a changed registration changes the label of its account too."""
    with transaction.atomic(durable=True):
        ledger.lock(vehicle.account.book)
        refuse_second(vehicle.account.book, facts.get("registration", ""), facts.get("vin", ""), vehicle)
        for name, value in facts.items():
            setattr(vehicle, name, value)
        vehicle.save(update_fields=[*facts, *COLUMNS.values(), "make_model_likeness"])
        Account.objects.filter(pk=vehicle.account_id).update(label=vehicle.registration)


def out_of_sight(vehicle: Vehicle, act: Act) -> Entry:
    """Take what the book has in a vehicle that is gone for good out of it, by the cause *out of sight*."""

    def build(draft: Draft) -> None:
        held = {code: mass for code, mass in in_vehicle_mg(vehicle, draft.balances).items() if mass > 0}
        if not held:
            raise Refused(f"The book has nothing in {vehicle}.")
        opening = draft.account(causes.OPENING)
        for code, mass_mg in held.items():
            draft.move(Line("out-of-sight", vehicle.account, opening, code, "recovered", mass_mg, "rest"))
        set_content(vehicle, "unknown")

    return ledger.write(vehicle.account.book, act, build)


def in_vehicle_mg(vehicle: Vehicle, balances: Balances | None = None) -> dict[str, int]:
    """Return what the book has in a vehicle by refrigerant, in milligrams, as it stands now or on a draft."""
    return {code: mass for (code, _), mass in (balances or Balances()).together(vehicle.account).items()}


def set_content(vehicle: Vehicle, content: str) -> None:
    """Say what is known of what is in a vehicle, one of `Vehicle.CONTENT`."""
    vehicle.content = content
    vehicle.save(update_fields=["content"])
