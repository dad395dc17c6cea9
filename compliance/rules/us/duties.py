"""The duties of the United States in our words, each with its source, its days and the check of it. Pure."""

from datetime import date
from functools import partial

from compliance.rules.law.containers import filled_once, filled_past_date
from compliance.rules.rule import MEMORY, PRACTICE, RESTATED, Rule
from compliance.rules.us import gas, people, retrofits, shown

_rule = partial(Rule, jurisdictions=("us",))
SUBSTITUTES = date(1995, 11, 15)  # since then the law covers substitutes as well
SNAP = "SNAP, 40 CFR 82 Subpart G"
RULES: tuple[Rule, ...] = (
    _rule(
        "us-certified-person",
        "Whoever recovers or charges a motor vehicle's refrigerant for pay is trained and certified for it.",
        "42 U.S.C. 7671h(c); 40 CFR 82.34(a), text of June 2026",
        people.certified_person,
        since=SUBSTITUTES,
    ),
    _rule(
        "us-proof-of-certification",
        "Proof that everybody who runs the equipment is certified is kept at the workshop.",
        "40 CFR 82.42(b), as an industry summary of 2019 has it",
        people.proof_of_certification,
        known=RESTATED,
    ),
    _rule(
        "us-equipment-certified",
        "Each recovery or recycling machine is of an approved kind and was certified to the authority once.",
        "42 U.S.C. 7671h(d)(3); 40 CFR 82.42(a)(1), edition of 2003",
        people.equipment_certified,
    ),
    _rule(
        "us-recycled-before-reuse",
        "Recovered refrigerant is recycled or reclaimed before it is charged again, even into the same vehicle.",
        "EPA page on servicing motor vehicle air conditioning, January 2021; 40 CFR 82.34(d)(1)",
        gas.recycled_before_reuse,
    ),
    _rule(
        "us-no-venting",
        "Refrigerant is not knowingly let into the air in service or disposal; carbon dioxide is exempt.",
        "42 U.S.C. 7671g(c); 40 CFR 82.154(a), text of 2005",
        gas.no_venting,
        since=SUBSTITUTES,
    ),
    _rule(
        "us-single-trip-refilled",
        "A single-trip (DOT-39) cylinder is never refilled: refilled, it may not be transported.",
        "49 CFR 178.65(i), PHMSA letter 19-0021 of 2019",
        filled_once,
    ),
    _rule(
        "us-recovered-hfc-owner",
        "Recovered HFC goes to another owner only after reclaim, or for reclaim or destruction.",
        "42 U.S.C. 7675(h)(2)(B), act of 2020",
        gas.recovered_kept_until_reclaimed,
        since=date(2020, 12, 27),  # day of enactment, from memory
    ),
    _rule(
        "us-requalified-before-refill",
        "A cylinder past its test date may be emptied and is not refilled before it is tested.",
        "49 CFR 180.205(c), from memory; periods in 180.209, texts of 2014 and 2017",
        filled_past_date,
        known=MEMORY,
    ),
    _rule(
        "us-destination-named",
        "Name and address of every place that recovered refrigerant is sent to are on record.",
        "40 CFR 82.42(b), as EPA's information request 1617.10 of 2021 has it",
        gas.destination_named,
        known=RESTATED,
    ),
    _rule(
        "us-papers-three-years",
        "Papers of what was sent away are kept on the premises for three years.",
        "40 CFR 82.42(b)(4) and (5), from memory; year not read",
        gas.papers_three_years,
        known=MEMORY,
    ),
    _rule(
        "us-buyer-certified",
        "Refrigerant is sold to certified people, or for resale, and the invoice is kept for three years.",
        "42 U.S.C. 7671h(e); 40 CFR 82.34(b); EPA fact sheet of 2016 for substitutes, their start in 2018 from memory",
        gas.buyer_certified,
    ),
    _rule(
        "us-retrofit-old-gas-out",
        "All of the old refrigerant is out before another one goes in.",
        f"{SNAP} App B, for R-12; for others SNAP as service literature has it, year not read",
        retrofits.old_gas_out,
        known=RESTATED,
    ),
    _rule(
        "us-retrofit-no-mixing",
        "Refrigerants are not mixed in a vehicle.",
        f"{SNAP}, as service literature has it, year not read",
        retrofits.no_mixing,
        known=RESTATED,
    ),
    _rule(
        "us-retrofit-acceptable",
        "A system that held R-12 is turned only to a refrigerant that is listed for it.",
        f"{SNAP} App B, current text as read in 2026",
        retrofits.acceptable_substitute,
    ),
    _rule(
        "us-retrofit-fittings",
        "Each refrigerant has its own fittings on both sides, and ports left unconverted are disabled for good.",
        f"{SNAP} App H of 28 May 1999, and SNAP as service literature has it",
        retrofits.unique_fittings,
        since=date(1999, 5, 28),
        known=RESTATED,
    ),
    _rule(
        "us-retrofit-label",
        "A retrofit label names workshop, date, refrigerant, charge and lubricant, and is on the vehicle.",
        f"{SNAP}, as service literature has it, year not read",
        retrofits.retrofit_label,
        known=RESTATED,
    ),
    _rule(
        "us-retrofit-barrier-hoses",
        "Barrier hoses are fitted where the new refrigerant contains R-22.",
        f"{SNAP}, as service literature has it, year not read",
        retrofits.barrier_hoses,
        known=RESTATED,
    ),
    _rule(
        "us-retrofit-cut-out",
        "A switch stops the compressor at high pressure where the system has a relief device.",
        f"{SNAP}, from memory; year not read",
        retrofits.cut_out_switch,
        known=MEMORY,
    ),
    _rule(
        "us-fifteen-pound-check",
        "A system with 15 lb or more of HFC may fall under leak repair; cars are far below, a bus is checked.",
        "40 CFR 84 Subpart C, 89 FR 82682 of 2024, as a trade summary has it",
        shown.fifteen_pounds,
        since=shown.LEAK_REPAIR_FROM,
        known=RESTATED,
    ),
    _rule(
        "us-disposable-heel",
        "The heel of a disposable cylinder is removed, with a statement, or the cylinder is returned for it.",
        "40 CFR 84 Subpart C, 89 FR 82682 of 2024, as a trade summary has it",
        gas.disposable_heel,
        since=date(2028, 1, 1),
        known=RESTATED,
    ),
    _rule(
        "us-recovery-held",
        "After a recovery the pressure is watched for 5 minutes, and what rises above the air is recovered again.",
        "U.S. Army TM 5-3810-307-24-1-2, chapter 9; year not read",
        shown.recovery_held,
        standing=PRACTICE,
        known=RESTATED,
    ),
    _rule(
        "us-leak-repaired-first",
        "A leak is found and mended before the system is filled; no federal law asks it for vehicles.",
        "Practice; a state agency's page says that EPA asks no leak repair on vehicles, year not read",
        shown.leak_repaired_first,
        standing=PRACTICE,
        known=RESTATED,
    ),
)
