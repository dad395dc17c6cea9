"""The duties of the European Union in our words, each with its source, its days and the check of it. Pure."""

from datetime import date
from functools import partial

from compliance.rules.eu import fills, gas, people, vehicles
from compliance.rules.eu.dates import ATTESTATIONS_2025, F_GAS_2024, TYPES_FROM_2011
from compliance.rules.law.containers import filled_past_date
from compliance.rules.rule import MEMORY, RESTATED, Rule

_rule = partial(Rule, jurisdictions=("eu",))
RULES: tuple[Rule, ...] = (
    _rule(
        "eu-attested-recovery",
        "Whoever recovers fluorinated gas from a vehicle holds an attestation, or learns under somebody who does.",
        "(EC) 307/2008, trainees up to 12 months; (EU) 2024/573 Art. 8 for other road vehicles from 11 March 2024",
        people.attested_recovery,
        until=date(2025, 10, 8),
    ),
    _rule(
        "eu-attested-recovery-2025",
        "Whoever recovers fluorinated gas from a vehicle holds an attestation, or learns under somebody who does.",
        "(EU) 2024/573 Art. 8; (EU) 2025/1893 Art. 2, trainees up to 24 months",
        people.attested_recovery,
        since=ATTESTATIONS_2025,
    ),
    _rule(
        "eu-attested-service",
        "Whoever services or repairs a car's air conditioning holds an attestation, or learns under somebody who does.",
        "(EU) 2024/573 Art. 4(7) and Art. 10(1); trainees by (EC) 307/2008, from 9 October 2025 by (EU) 2025/1893",
        people.attested_service,
        since=F_GAS_2024,
    ),
    _rule(
        "eu-attestation-type",
        "The attestation is of the type for the act: M1 all, M2 with an automated station, M3 CO2, M4 recovery only.",
        "(EU) 2025/1893 Art. 2(2), Art. 3(2) and Art. 6",
        people.attestation_type,
        since=ATTESTATIONS_2025,
    ),
    _rule(
        "eu-refresher",
        "An attestation is refreshed every seven years, the first time by 12 March 2029.",
        "(EU) 2024/573 Art. 10(9), as a training body's notice has it",
        people.refresher,
        since=F_GAS_2024,
        known=RESTATED,
    ),
    _rule(
        "eu-no-release",
        "Fluorinated gas is recovered before a circuit is opened, and never let go on purpose.",
        "(EU) 2024/573 Art. 4(1) and Art. 8",
        gas.no_release,
        since=F_GAS_2024,
    ),
    _rule(
        "eu-ozone-recovered",
        "Ozone-depleting gas is recovered at service and before dismantling, and never let go on purpose.",
        "(EU) 2024/590 Art. 20(1) and Art. 21",
        gas.ozone_recovered,
        since=F_GAS_2024,
    ),
    _rule(
        "eu-fill-ban",
        "Cars of types approved from 2011, and from 2017 all but old systems, are not filled with gas of GWP over 150.",
        "Directive 2006/40/EC Art. 6(2); GWP of the third assessment report as a trade body has it",
        fills.fill_ban,
        since=TYPES_FROM_2011,
    ),
    _rule(
        "eu-abnormal-loss",
        "After an abnormal loss a car is not filled before the repair is complete.",
        "Directive 2006/40/EC Art. 6(3)",
        fills.abnormal_loss,
    ),
    _rule(
        "eu-ozone-not-charged",
        "No ozone-depleting refrigerant, such as R-12, goes into any vehicle.",
        "(EU) 2024/590 Art. 12; that use is banned as the European Parliament's summary of the act of 2024 has it",
        fills.ozone_not_charged,
        since=F_GAS_2024,
        known=RESTATED,
    ),
    _rule(
        "eu-ozone-stock",
        "Ozone-depleting gas that was recovered goes to destruction or reclaim.",
        "(EU) 2024/590 Art. 12 and Art. 20(1)",
        gas.ozone_stock,
        since=F_GAS_2024,
    ),
    _rule(
        "eu-recycled-before-refill",
        "Recovered fluorinated gas is recycled or reclaimed before it is charged.",
        "(EU) 2024/573 Art. 8(6), opening words read, the rest from memory",
        fills.recycled_before_refill,
        since=F_GAS_2024,
        known=MEMORY,
    ),
    _rule(
        "eu-recycled-own-only",
        "Recycled gas is used only by the firm that recovered it, or for which it was recovered.",
        "(EU) 2024/573 Art. 13, said there of gas with a GWP of 2 500 or more",
        fills.recycled_own_only,
        since=F_GAS_2024,
    ),
    _rule(
        "eu-virgin-high-gwp",
        "New gas with a GWP of 2 500 or more does not service refrigeration from 2025, air conditioning from 2026.",
        "(EU) 2024/573 Art. 13, start dates from memory",
        fills.virgin_high_gwp,
        since=date(2025, 1, 1),
        known=MEMORY,
    ),
    _rule(
        "eu-refillable-only",
        "Fluorinated gas comes in containers that can be filled again and have a way back.",
        "(EU) 2024/573 Art. 11(3) and Annex IV point 1; since 4 July 2007",
        gas.refillable_only,
        since=date(2007, 7, 4),
    ),
    _rule(
        "eu-who-may-buy",
        "Fluorinated gas for service is sold only to holders of a certificate or attestation.",
        "(EU) 2024/573 Art. 11(6) and Art. 7, in part from memory",
        gas.who_may_buy,
        since=F_GAS_2024,
        known=MEMORY,
    ),
    _rule(
        "eu-inspected-before-filling",
        "A cylinder past its inspection date is not filled; it may still be carried to inspection.",
        "ADR 2025, 4.1.6.10",
        filled_past_date,
    ),
    _rule(
        "eu-label-after-change",
        "After a change of gas the system is labelled anew: gas, mass, CO2 equivalent, GWP.",
        "(EU) 2024/573 Art. 12",
        vehicles.label_after_change,
        since=F_GAS_2024,
    ),
    _rule(
        "eu-ozone-records",
        "What was recovered of ozone-depleting gas, when and by whom, is kept for five years.",
        "(EU) 2024/590 Art. 21",
        gas.ozone_records,
        since=F_GAS_2024,
    ),
    _rule(
        "eu-leak-checks-mobile",
        "Refrigerated trucks, and from 12 March 2027 vans, buses and machinery, are leak checked; cars are not.",
        "(EU) 2024/573 Art. 5(1), (3) and (6); the date of 2027 read in Art. 8(5), for Art. 5 from memory",
        vehicles.leak_checks,
        since=F_GAS_2024,
    ),
    _rule(
        "eu-records-mobile",
        "The same vehicles have a record of gas, additions, recovery, firm and person, kept for five years.",
        "(EU) 2024/573 Art. 7; the date of 2027 for Art. 5 from memory",
        vehicles.equipment_records,
        since=F_GAS_2024,
    ),
)
