"""A book in pounds, psi and Fahrenheit speaks so on its pages and papers.

A day is played through the pages, typed in customary units on a scale that shows pounds. Then its pages are
looked at for a figure in grams, kilograms, bar, C or K. What may stay metric is named in `MAY_STAY`, with the reason.
"""

import re
from collections.abc import Callable
from html import unescape
from typing import Any

import pytest
from django.test import Client

from compliance.models import Finding
from inventory.models import Account, Entry
from shop.models import Step

HOME = "/w/port-ellery/"
METRIC = re.compile(r"(?<![\w.])[-+−]?\d[\d,.]* (?:mg|g|kg|t|bar|mbar|kPa|K|C)\b")
ONCE_METRIC = re.compile(
    r"(lb|oz|psi|inHg|micron|F|gauge|absolute|atmosphere) \([-−\d,.]+ (?:g|kg|m?bar|C)(?: absolute)?\)"
)
MAY_STAY = (
    (r"settings/scales/", r"Such as 5 g or 0.02 lb", "steps as scales have them, in either unit"),
    (r"", r"CO2", "CO2 equivalents are stated in kilograms everywhere"),
    (r"", r"CoolProp|CFR|Directive|Regulation|EN 1|ISO |common practice, no source", "a source as it is published"),
)


@pytest.fixture
def send(sending: Callable[..., Any], owner_client: Client, owner: Any) -> Callable[..., Any]:
    return sending(owner_client, owner, taken=True)


@pytest.fixture
def day(us: Any, send: Callable[..., Any], make_scale: Any, make_cylinder: Any, make_partner: Any) -> None:
    """A car is emptied and filled again, a cylinder weighed with a difference, another sent away."""
    scale = make_scale("P1", step_mg=9_072, step_number="0.02", step_unit="lb")
    full = make_cylinder("C-1", mass_mg=5_000_000)
    bottle = make_cylinder(
        "R-7", kind="recovery", grade="recovered", tare_mg=6_360_000, water_capacity_m3=0.012, requalify_by="2099-01-01"
    )
    make_cylinder("B-1", kind="single-trip", mass_mg=4_000_000)
    make_partner("Northgas")
    send("visits/new/", registration="KX 4471", state="warm")
    label = {"label": "label read", "refrigerant": "R-134a", "where": "under the hood"}
    send("visits/1/add/label-read/", **label, mass="32", mass_unit="oz", tolerance="1", tolerance_unit="oz")
    warm = {"coldest": "68", "coldest_unit": "F", "warmest": "68", "warmest_unit": "F"}
    send("visits/1/add/standing-pressure/", pressure="68", pressure_unit="psi", **warm)
    pounds = {"scale": scale.number, "before_unit": "lb", "after_unit": "lb"}
    ended = {"stopped": "done", "waited": "5", "pressure_after_wait": "-15", "pressure_after_wait_unit": "inHg"}
    oil = {"oil_out": "0.5", "oil_out_unit": "fl oz"}
    send(
        f"visits/1/recover/?target={bottle.account.number}",
        **{"before": "14.02", "after": "15.96", **pounds, **ended, **oil, "coldest": "68", "coldest_unit": "F"},
    )
    send("visits/1/add/circuit-opened/", what="condenser", relieved="yes")
    send("visits/1/add/circuit-closed/", what="all joints", capped="yes")
    sent = {"out": "0.8", "out_unit": "fl oz", "in": "1", "in_unit": "fl oz", "type": "PAG 46"}
    send("visits/1/add/oil-balance/", **sent)
    rows = {"readings_rows": "2", "readings_pressure_unit": "psi", "readings_temperature_unit": "F"}
    for row, minute in enumerate(("0", "20")):
        rows |= {f"readings_{row}_time": minute, f"readings_{row}_pressure": "250", f"readings_{row}_temperature": "72"}
    send("visits/1/add/pressure-hold/", gas="dry nitrogen", **rows)
    rows = {"readings_rows": "3", "readings_pressure_unit": "micron", "coldest": "68", "coldest_unit": "F"}
    for row, minute in enumerate(("0", "15", "30")):
        rows |= {f"readings_{row}_time": minute, f"readings_{row}_pressure": "500"}
    send("visits/1/add/vacuum-hold/", gauge_type="absolute", **rows)
    aim = {"target": "32", "target_unit": "oz", "tolerance": "1", "tolerance_unit": "oz"}
    send(f"visits/1/charge/?source={full.account.number}", before="24.70", after="22.72", **pounds, **aim)
    units = {f"{name}_unit": "F" for name in ("air", "vent", "suction", "liquid")} | {
        "low_unit": "psi",
        "high_unit": "psi",
    }
    running = {"air": "86", "vent": "44", "low": "30", "high": "200", "suction": "50", "liquid": "100", **units}
    send("visits/1/add/running-test/", **running)
    found = {"gross": "23.10", "gross_unit": "lb", "gross_reading": "=23.10 lb", "scale": scale.number}
    send(f"cylinders/{full.account.number}/weigh/", role="check", **found)


def lines_of(response: Any) -> list[str]:
    """Return a page as its lines of text, each space a plain one, without what is drawn."""
    text = re.sub(r"<(script|style|svg)\b.*?</\1>", " ", response.content.decode(), flags=re.DOTALL)
    text = re.sub(r"</?(?:p|div|li|dt|dd|h\d|tr|td|th|label|option|legend)\b[^>]*>", "\n", text)
    plain = unescape(re.sub(r"<[^>]+>", " ", text)).replace("\N{NARROW NO-BREAK SPACE}", " ")
    return [" ".join(line.split()) for line in plain.split("\n") if line.strip()]


def strays(path: str, line: str) -> list[str]:
    """Return the metric figures of a line that have no reason to be there."""
    if any(re.search(where, path) and re.search(what, line) for where, what, _ in MAY_STAY):
        return []
    return METRIC.findall(ONCE_METRIC.sub(r"\1", line))


PAGES = (
    "",
    "weigh/",
    "cylinders/",
    "cylinders/{C-1}/",
    "cylinders/{R-7}/",
    "cylinders/{B-1}/",
    "cylinders/{C-1}/weigh/",
    "cylinders/{C-1}/send-away/",
    "cylinders/{C-1}/edit/",
    "cylinders/receive/",
    "visits/",
    "visits/1/",
    "visits/1/hand-over/",
    "visits/1/recover/",
    "visits/1/recover/?target={R-7}",
    "visits/1/charge/",
    "visits/1/charge/?source={C-1}",
    "visits/1/add/standing-pressure/",
    "visits/1/add/oil-balance/",
    "visits/1/add/pressure-hold/",
    "visits/1/add/running-test/",
    "visits/1/add/remainder-settled/",
    "vehicles/",
    "vehicles/{KX 4471}/",
    "vehicles/{KX 4471}/edit/",
    "findings/",
    "findings/?state=open",
    "lines/",
    "close/",
    "stock-take/",
    "settings/",
    "settings/scales/new/",
    "people/",
)


def test_no_page_speaks_metric_without_a_reason(day: None, owner_client: Client) -> None:
    """The pages above, every line of the book, every step of the visit and every finding."""
    numbers = dict(Account.objects.exclude(label="").values_list("label", "number"))
    paths = [re.sub(r"\{(.+?)\}", lambda named: str(numbers[named[1]]), page) for page in PAGES]
    paths += [f"lines/{seq}/" for seq in Entry.objects.values_list("seq", flat=True)]
    paths += [f"visits/1/steps/{pk}/" for pk in Step.objects.values_list("pk", flat=True)]
    found = []
    for path in paths:
        response = owner_client.get(HOME + path)
        assert response.status_code == 200, path
        found += [f"{path}: {line}" for line in lines_of(response) if strays(path, line)]
    assert Finding.objects.exists()
    for pk in Finding.objects.values_list("pk", flat=True):
        path = f"findings/{pk}/"
        found += [f"{path}: {line}" for line in lines_of(owner_client.get(HOME + path)) if strays(path, line)]
    assert not found, "\n".join(found)


@pytest.mark.parametrize("kind", ["visit-record", "recovery-certificate"])
def test_no_paper_of_a_visit_speaks_metric_but_once_in_brackets(day: None, owner_client: Client, kind: str) -> None:
    path = f"{HOME}documents/issue/{kind}/visit:1/"
    lines = lines_of(owner_client.get(path))
    assert any("32 oz" in line or "1 lb 15" in line for line in lines)
    assert [line for line in lines if strays(path, line)] == []
