"""The checks of the duties of the European Union. Pure."""

from compliance.rules.eu import fills, gas, people, vehicles
from compliance.rules.law import containers
from compliance.rules.rule import rules_with

RULES = rules_with(
    {
        "eu-attested-recovery": people.attested_recovery,
        "eu-attested-recovery-2025": people.attested_recovery,
        "eu-attested-service": people.attested_service,
        "eu-attestation-type": people.attestation_type,
        "eu-refresher": people.refresher,
        "eu-no-release": gas.no_release,
        "eu-ozone-recovered": gas.ozone_recovered,
        "eu-fill-ban": fills.fill_ban,
        "eu-abnormal-loss": fills.abnormal_loss,
        "eu-ozone-not-charged": fills.ozone_not_charged,
        "eu-ozone-stock": gas.ozone_stock,
        "eu-recycled-before-refill": fills.recycled_before_refill,
        "eu-recycled-own-only": fills.recycled_own_only,
        "eu-virgin-high-gwp": fills.virgin_high_gwp,
        "eu-refillable-only": gas.refillable_only,
        "eu-who-may-buy": gas.who_may_buy,
        "eu-inspected-before-filling": containers.filled_past_date,
        "eu-label-after-change": vehicles.label_after_change,
        "eu-ozone-records": gas.ozone_records,
        "eu-leak-checks-mobile": vehicles.leak_checks,
        "eu-records-mobile": vehicles.equipment_records,
    }
)
