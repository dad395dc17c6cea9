"""The checks of a vehicle: the running test, and the leak rate from what was added."""

from inventory.measure.uncertainty import machine
from shop.bench import leakrate, performance
from shop.checks.values import Check, CheckAnswer, CheckFault, Values, picked


def _performance(v: Values) -> CheckAnswer:
    answer = performance.judge(
        performance.Running(
            refrigerant=v["refrigerant"],
            low_pa=v["low"],
            high_pa=v["high"],
            suction_line_k=v["suction_line"],
            liquid_line_k=v["liquid_line"],
            ambient_k=v["ambient"],
            humidity=None if v["humidity"] is None else v["humidity"] / 100,
            vent_k=v["vent"],
            atmosphere_pa=v.atmosphere_pa,
        )
    )
    return CheckAnswer.of(
        answer,
        figures=picked(answer, "evaporating_k condensing_k superheat_k subcooling_k ideal_cop"),
        formula="Saturation at the two pressures; ideal cycle between them",
        picture=answer.diagram,
    )


def _leak_rate(v: Values) -> CheckAnswer:
    method, full, added = v["method"], v["full_charge"], v["added"]
    if method == "between-visits":
        return _between(v, sum(added), full)
    if method == "annualising":
        if v["days"] is None:
            raise CheckFault("Annualising needs the days since the last addition (days).", "days")
        rate = leakrate.annualising_percent(added=sum(added), full_charge=full, days=v["days"])
        formula = "added / full charge x 365 / least of days and 365 x 100"
    else:
        rate = leakrate.rolling_percent(additions=added, full_charge=full)
        formula = "sum of what was added in 365 days / full charge x 100"
    return CheckAnswer(
        verdict="rate",
        sentence=leakrate.statutory_sentence(rate, method=method),
        workings=(("A year", f"{rate:.2f} % = {rate / 100 * full:.1f} g"),),
        sources=("40 CFR 82.152 (read second-hand)",),
        cautions=(leakrate.NOT_FOR_CARS,),
        figures={"percent_per_year": rate, "g_per_year": rate / 100 * full},
        formula=formula,
    )


def _between(v: Values, added: float, full: float) -> CheckAnswer:
    if v["days"] is None:
        raise CheckFault("A rate between visits needs the days between them (days).", "days")
    if added > full:
        raise CheckFault("More was added than the full charge: read both again.", "added")
    u_g = machine(v["mass_limit"]).total_g
    answer = leakrate.between_visits(
        leakrate.BetweenVisits(
            charged_g=full,
            u_charged_g=u_g,
            recovered_g=full - added,
            u_recovered_g=u_g,
            residue_g=0.0,
            u_residue_g=0.0,
            days=v["days"],
        )
    )
    return CheckAnswer.of(
        answer,
        figures=picked(answer, "percent_per_year g_per_year u_g_per_year loss_g"),
        formula="What it took to fill it up again x 365.25 / days",
    )


PERFORMANCE = Check(
    "performance", "Running test", "Superheat, subcooling and the ideal cycle on a drawing.", _performance
)
LEAK_RATE = Check(
    "leak-rate", "Leak rate", "What went in a year, between visits or by the statutory formulas.", _leak_rate
)
