"""Labels of cylinders, each with a code that opens the cylinder's page; and what labels are printed on."""

from collections.abc import Sequence
from dataclasses import replace
from datetime import date
from typing import Any

from django.conf import settings
from django.db.models import Max

from compliance.papers.cylinders import (
    Shelved,
    applying,
    cautions_of,
    on_the_shelf,
    tare_said,
    test_date_said,
)
from compliance.papers.paper import LABELS, Label, NothingToIssue, Paper, Words
from compliance.papers.wording import Wording, issuer_of, number_in, wording_of
from inventory.gases.catalogue import refrigerant
from inventory.measure.codes import label_address
from inventory.models import Movement
from inventory.output.stock import ON_SHEET
from shop.models import Workshop

MOST_LABELS = 60
CUT = "Cut it out along its frame."
STICK = (
    "Stick it on, over the old label where there is one. The code opens the cylinder’s page and asks a stranger to "
    "sign in; it shows nothing by itself."
)
OF_ITS_DAY = (
    "A label says what the cylinder was for on the day of issue. After a change of its content, its empty mass or its "
    "test date a new one is due."
)


def cylinder_labels(workshop: Workshop, about: str, *, today: date) -> Paper:
    """Return a sheet of labels; `about` is such as ``cylinders:7,8,9``, the numbers of their accounts."""
    shelved = on_the_shelf(workshop, _numbers(about))
    wording, where = wording_of(workshop), origin()
    rules = sorted({one.limit.source for one in shelved if one.limit})
    return printed_on(
        workshop,
        Paper(
            kind=LABELS,
            title="Cylinder labels",
            about=about,
            issuer=issuer_of(workshop),
            blocks=tuple(_label(one, wording, label_address(where, one.cylinder.label), today) for one in shelved),
            lines=_last_lines(shelved),
            bases=("scale at most: the empty mass and the filling limit together",),
            sources=tuple(rules),
            cautions=cautions_of({one.code for one in shelved}),
            figures={"cylinders": [_label_figures(one) for one in shelved]},
            beside=(STICK, OF_ITS_DAY),
        ),
    )


def printed_on(workshop: Workshop, paper: Paper) -> Paper:
    """Return a paper of labels as the workshop prints them: each by itself on its stock, or on a sheet to be cut.

    On a stock a label is all that is printed; what else there is to say stands on the page that issues it.
    """
    if workshop.labels == ON_SHEET:
        return replace(paper, blocks=(*paper.blocks, Words("", (CUT, *paper.beside))), beside=())
    said = (*paper.cautions, *paper.beside, *(f"{one}." for one in (*paper.bases, *paper.sources)))
    return replace(paper, size=workshop.labels, bases=(), sources=(), cautions=(), beside=said)


def _numbers(about: str) -> list[int]:
    """Return the numbers of a list such as ``cylinders:7,8,9``, each once, in their order."""
    _, _, text = about.partition(":")
    if not text:
        raise NothingToIssue("No cylinder was chosen. Choose at least one.")
    if not about.startswith("cylinders:"):
        raise NothingToIssue(f"{about} names no cylinders.")
    numbers = list(dict.fromkeys(number_in(f"cylinder:{one}", "cylinder") for one in text.split(",")))
    if len(numbers) > MOST_LABELS:
        raise NothingToIssue(f"{len(numbers)} labels are too many for one sheet: at most {MOST_LABELS}.")
    return numbers


def origin() -> str:
    """Return where the pages are reached; labels bear it."""
    if settings.ADDRESS:
        return str(settings.ADDRESS)
    host = next(iter(settings.ALLOWED_HOSTS), "*")
    if host.startswith((".", "*")):
        raise NothingToIssue("The address that labels bear is not known: TAREBOOK_ADDRESS is not set on the server.")
    return f"{'https' if settings.HTTPS else 'http'}://{host}"


def _label(one: Shelved, wording: Wording, code: str, today: date) -> Label:
    cylinder = one.cylinder
    rows = (
        ("Refrigerant", f"{one.code} {one.grade}, class {refrigerant(one.code).safety_class}"),
        ("Kind", cylinder.kind),
        ("Empty mass", tare_said(cylinder, wording)),
        ("Scale at most", one.most_said(wording)),
        ("Test date", test_date_said(cylinder, today, wording)),
    )
    return Label(f"{cylinder.serial} {cylinder.label}", applying(cylinder, rows), code, one.marks)


def _label_figures(one: Shelved) -> dict[str, Any]:
    cylinder = one.cylinder
    return {
        "number": cylinder.account.number,
        "serial": cylinder.serial,
        "label": cylinder.label,
        "kind": cylinder.kind,
        "refrigerant": one.code,
        "grade": one.grade,
        "tare_mg": None if cylinder.lacks_tare else cylinder.tare_mg,
        "limit_mg": one.limit_mg,
        "most_gross_mg": one.most_gross_mg,
        "rule": one.limit.rule if one.limit else "",
        "requalify_by": cylinder.requalify_by.isoformat() if cylinder.requalify_by else None,
        "marks": list(one.marks),
    }


def _last_lines(shelved: Sequence[Shelved]) -> tuple[int, ...]:
    """Return the last line of each cylinder: what its label says follows from it."""
    last: dict[int, int] = {}
    accounts = [one.cylinder.account_id for one in shelved]
    for end in ("source", "target"):
        rows = Movement.objects.filter(**{f"{end}__in": accounts}).order_by().values_list(end)
        for account, seq in rows.annotate(last=Max("entry__seq")):
            last[account] = max(seq, last.get(account, 0))
    return tuple(sorted(set(last.values())))
