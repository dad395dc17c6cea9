"""A process that writes to a book, for the tests that kill it. Not a test: started with what to do as words.

write BOOK WRITER ACTS LOG    write acts of which every third is sent twice; a line in LOG for each one answered
set-up BOOK                   give a book two cylinders, two cars and a scale
kill                          end a process before each statement of an act in turn; print what stood afterwards
"""

import json
import os
import random
import sys
from functools import partial
from pathlib import Path
from typing import Any
from uuid import UUID, uuid5

sys.path.insert(0, str(Path(__file__).resolve().parents[3]))
os.environ.setdefault("DJANGO_SETTINGS_MODULE", "shop.settings")

import django  # noqa: E402 - the path comes first

django.setup()

from django.db import connection, transaction  # noqa: E402
from django.utils import timezone  # noqa: E402

from inventory.book import audit, ledger  # noqa: E402
from inventory.book.draft import Draft, Line, Reading  # noqa: E402
from inventory.models import Account, Book, Entry, Scale  # noqa: E402

KEYS = UUID("6d1c7c10-0000-4000-8000-000000000000")
KILLED = 9


def set_up(name: str) -> Book:
    """Give a book two cylinders of 50 kg, two cars and a scale, and return it."""
    with transaction.atomic():
        book = ledger.open_book(name, "UTC")
        opening = Account.objects.get(book=book, kind="opening")
        for number in range(2):
            cylinder = ledger.open_account(book, "cylinder", f"C-{number}")
            ledger.open_account(book, "vehicle", f"car {number}")
            stock = Line("opening-stock", opening, cylinder, "R-134a", "virgin", 50_000_000, "single")
            ledger.write(book, act(f"{name} stock {number}"), partial(Draft.move, line=stock))
        ledger.open_scale(book, name="S1", step_mg=5_000)
    return Book.objects.get(pk=book.pk)


def act(name: str) -> ledger.Act:
    return ledger.Act(uuid5(KEYS, name), "p-writer", timezone.now(), {"name": name})


def charge(book: Book, name: str, mass_mg: int) -> Entry:
    """Write one act with two readings and a charge, as a view would: one durable transaction."""
    number = sum(name.encode()) % 2
    cylinder = Account.objects.get(book=book, label=f"C-{number}")
    car = Account.objects.get(book=book, label=f"car {number}")
    scale = Scale.objects.get(book=book)

    def build(draft: Draft) -> None:
        _, _, held = draft.content(cylinder) or ("", "", 0)
        for role, net in (("before", held), ("after", held - mass_mg)):
            draft.read(Reading(cylinder, role, 6_200_000 + net, 6_200_000, 2_041, scale, f"{net} mg"))
        draft.move(Line("charge", cylinder, car, "R-134a", "virgin", mass_mg, "pair", 2_041, 0, scale))

    with transaction.atomic(durable=True):
        return ledger.write(book, act(name), build)


def write(name: str, writer: str, acts: int, log: str) -> None:
    """Write acts; what was answered goes to the log at once, so that a kill cannot take the answer back."""
    book, chance = Book.objects.get(name=name), random.Random(writer)
    answers = os.open(log, os.O_WRONLY | os.O_CREAT | os.O_APPEND)
    for number in range(acts):
        # A third of the acts is shared by all writers: the same form, sent from several places at once.
        own = f"shared {number}" if number % 3 == 0 else f"{writer} {number}"
        for _ in range(1 + chance.randrange(2)):
            entry = charge(book, own, 1_000 + sum(own.encode()))
            os.write(answers, f"{own}\t{entry.seq}\t{entry.digest}\n".encode())


def one_act(book: Book, statement: int) -> int:
    """Do one act, ending the process right before its `statement`-th statement, COMMIT included; return how many."""
    done = 0

    def count(execute: Any, sql: str, params: Any, many: bool, context: Any) -> Any:
        nonlocal done
        done += 1
        if done == statement:
            os._exit(KILLED)
        return execute(sql, params, many, context)

    inside: Any = connection  # COMMIT does not pass through the wrapper
    commit = inside._commit
    inside._commit = lambda: count(lambda *_: commit(), "COMMIT", None, False, {})
    with connection.execute_wrapper(count):
        charge(book, "the one act", 250_000)
    return done


def kill() -> None:
    """End a process before each statement of an act in turn; print what stands afterwards, and after a repetition."""
    outcomes, statement, ended = [], 0, KILLED
    while ended == KILLED:
        statement += 1
        book = set_up(f"killed before {statement}")
        connection.close()
        if (child := os.fork()) == 0:
            one_act(book, statement)
            os._exit(0)
        ended = os.waitstatus_to_exitcode(os.waitpid(child, 0)[1])
        counts = audit.count(book)
        faults = [str(fault) for fault in audit.faults(book)]
        again = charge(book, "the one act", 250_000)
        faults += [str(fault) for fault in audit.faults(book)]
        outcomes.append([ended, [counts.entries, counts.movements, counts.weighings], again.seq, faults])
    sys.stdout.write(json.dumps(outcomes))


if __name__ == "__main__":
    what, *words = sys.argv[1:]
    if what == "set-up":
        set_up(words[0])
    elif what == "write":
        write(words[0], words[1], int(words[2]), words[3])
    elif what == "kill":
        kill()
