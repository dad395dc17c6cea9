"""The checks of the duties of the United States. Pure."""

from compliance.rules.law import containers
from compliance.rules.rule import rules_with
from compliance.rules.us import gas, people, retrofits

RULES = rules_with(
    {
        "us-certified-person": people.certified_person,
        "us-proof-of-certification": people.proof_of_certification,
        "us-equipment-certified": people.equipment_certified,
        "us-state-licence": people.state_licence,
        "us-recycled-before-reuse": gas.recycled_before_reuse,
        "us-no-venting": gas.no_venting,
        "us-single-trip-refilled": containers.filled_once,
        "us-recovered-hfc-owner": gas.recovered_kept_until_reclaimed,
        "us-requalified-before-refill": containers.filled_past_date,
        "us-destination-named": gas.destination_named,
        "us-papers-three-years": gas.papers_three_years,
        "us-buyer-certified": gas.buyer_certified,
        "us-retrofit-old-gas-out": retrofits.old_gas_out,
        "us-retrofit-no-mixing": retrofits.no_mixing,
        "us-retrofit-acceptable": retrofits.acceptable_substitute,
        "us-retrofit-fittings": retrofits.unique_fittings,
        "us-retrofit-label": retrofits.retrofit_label,
        "us-retrofit-barrier-hoses": retrofits.barrier_hoses,
        "us-retrofit-cut-out": retrofits.cut_out_switch,
        "us-fifteen-pound-check": gas.fifteen_pounds,
        "us-disposable-heel": gas.disposable_heel,
        "us-recovery-held": gas.recovery_held,
        "us-leak-repaired-first": gas.leak_repaired_first,
    }
)
