"""India's rules on ozone-depleting substances: they ask, and reach CFC and HCFC alone."""

from dataclasses import replace

from compliance.rules import india
from compliance.rules.rule import BREACH
from tests.compliance.rules.builders import charge, consignment, cylinder, line, said, visit, workshop
from tests.compliance.rules.cases import Case

PLAIN = workshop("in", visit(), lines=(line(),), cylinders=(cylinder(),), consignments=(consignment(),))
BOUGHT = replace(PLAIN, lines=(line(refrigerant="R-12"),))
PAPERS = (cylinder(34, refrigerant="R-12", paper_number="B-9"),)
SOLD = consignment(refrigerant="R-22", purpose="sale")
GONE = consignment(refrigerant="R-12", purpose="destruction")


def sent(one, **facts):
    return replace(PLAIN, consignments=(replace(one, **facts),))


CASES = (
    Case("in-registered", BOUGHT, replace(BOUGHT, registration=" "), replace(PLAIN, registration=""), "open"),
    Case("in-purchases-recorded", replace(BOUGHT, cylinders=PAPERS), BOUGHT, PLAIN, "open"),
    Case("in-sales-recorded", sent(SOLD), sent(SOLD, has_address=False), sent(SOLD, refrigerant="R-134a"), "open"),
    Case("in-reclaimed-destroyed", sent(GONE), sent(GONE, paper_number=""), PLAIN, "open"),
    Case(
        "in-use-measured",
        workshop("in", visit(charge(900, refrigerant="R-12"))),
        workshop("in", visit(charge(900, refrigerant="R-12", basis="count"))),
        PLAIN,
        "open",
    ),
)


def test_none_of_them_speaks_of_a_breach() -> None:
    worst = [case.broken for case in CASES]
    assert not any(BREACH in said(rule, facts) for rule in india.RULES for facts in worst)
