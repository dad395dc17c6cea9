"""The checks of a circuit: holds, recovery, running test and leak rate, from values as read to the answer for scripts.

None of them needs the inside volume: `volume` is one figure, `vehicle_class` the range of a class, and with neither
that of a car is taken; the sentence says so. Keys that end in `_low` and `_high` are at the two ends of the range; the
same key without an end is that of the usual volume in between (a car 2 L). All are equal where the volume is one
figure. A bound (`rest_at_most_g`, `limit_g`) and `time_to_see_limit_s` are those of the high end, the safe one.

`verdict` of a recovery is `emptied` where the circuit stands so (`residue`), but for a vehicle that arrived empty,
and for one whose volume and oil were both entered and whose mass is accounted for: that says more. `verdict_detail` is
the verdict of the mass alone.
"""

from typing import Any

from inventory.measure import atmosphere
from inventory.measure.uncertainty import machine
from shop.bench import (
    evidence,
    hold,
    holdfacts,
    insides,
    leakrate,
    performance,
    recovery,
    residue,
    standing,
    vacuum,
    vacuumfits,
)
from shop.bench.insides import Ends, Inside
from shop.checks.values import Check, CheckAnswer, CheckFault, GaugeReading, Values, picked

STANDING_STEP_PA = 10_000.0


def _inside(v: Values) -> Inside | None:
    """The inside volume as entered or by its class; None where neither was."""
    if v["volume"] is not None:
        return insides.entered(v["volume"])
    return None if v["vehicle_class"] is None else insides.of_class(v["vehicle_class"])


def _around(v: Values) -> dict[str, Any]:
    """The inside volume and the air outside, each as far as it is known."""
    air = v.air or atmosphere.Air(v.atmosphere_pa, v.atmosphere_pa, v.atmosphere_pa)
    return {
        "inside": _inside(v),
        "atmosphere_pa": v.atmosphere_pa,
        "atmosphere_low_pa": air.low_pa,
        "atmosphere_high_pa": air.high_pa,
    }


def _ask(v: Values, key: str, doubt: str) -> None:
    """Raise ``CheckFault`` with what is doubtful, unless it was said that it does read so."""
    if doubt and v["as_read"] != "yes":
        raise CheckFault(f"{doubt} If it does read so, say as_read=yes.", key, question=doubt, may_insist=True)


def judge_hold(v: Values) -> CheckAnswer:
    """Return the answer of a pressure hold."""
    rows: tuple[GaugeReading, ...] = v["readings"]
    if len(rows) == 1:
        raise CheckFault("Reading 1 stands alone: a hold needs at least two readings.", "readings")
    asked = holdfacts.Hold(
        readings=tuple(holdfacts.HoldReading(one.time_s, one.pressure_pa, one.temperature_k) for one in rows),
        refrigerant=v["refrigerant"] or "",
        pressure_step_pa=v["pressure_step"] or max(one.pressure_step_pa for one in rows),
        temperature_step_k=v["temperature_step"] or max(one.temperature_step_k for one in rows),
        **_around(v),
        allowed_pa=v["allowed"],
        compensation=v["compensation"] or "ideal",
        gas=v["gas"],
        atmosphere_by=v.atmosphere_by,
    )
    _ask(v, "barometer", v.barometer_doubt)
    answer = hold.judge(asked)
    _ask(v, "readings", " ".join(answer.questions))
    numbers, hole, first, last = answer.numbers, answer.numbers.hole, asked.readings[0], asked.readings[-1]
    return CheckAnswer.of(
        answer,
        sentence=_said(answer.sentence, asked.space),
        cautions=(*answer.cautions, "Where the hold cannot see it, search with bubbles and an electronic detector."),
        figures={
            **_volumes(asked.space),
            "first_pressure_pa": first.pressure_pa,
            "last_pressure_pa": last.pressure_pa,
            "duration_s": last.time_s - first.time_s,
            "pressure_drop_pa": first.pressure_pa - last.pressure_pa,
            "compensated_drop_pa": 0.0 - numbers.change_pa,
            "u_compensated_drop_pa": numbers.u_change_pa,
            "temperature_taken": asked.is_corrected,
            **_by_volume("leak_g_per_year", numbers.leak_g),
            "u_leak_g_per_year": hole.g_per_year(numbers.u_leak.usual),
            "leak_at_least_g_per_year": hole.g_per_year(numbers.least),
            "leak_at_most_g_per_year": hole.g_per_year(numbers.most),
            **_by_volume("smallest_visible_leak_g_per_year", numbers.smallest_g),
            "smallest_visible_leak_pa_m3_s_low": numbers.smallest.low,
            "smallest_visible_leak_pa_m3_s_high": numbers.smallest.high,
            "time_to_see_limit_s": numbers.time_to_see_s,
            "leak_pa_m3_s": numbers.leak.usual,
            "leak_mbar_l_s": numbers.leak.usual * leakrate.MBAR_L_S_PER_PA_M3_S,
            "above_allowed": asked.above_allowed,
            "gas": asked.gas,
            "atmosphere_pa": v.atmosphere_pa,
            "atmosphere_by": v.atmosphere_by,
            "why_not": hole.why_not,
        },
        formula="q = -V d(p T0 / T) / dt",
        picture=answer.picture,
    )


def _said(sentence: str, inside: Inside) -> str:
    """The sentence; where its verdict needed no volume, with the one that the figures are for, if it is an estimate."""
    if inside.is_one or inside.words in sentence:
        return sentence
    return f"{sentence} Inside volume taken: {inside.words}."


def _volumes(inside: Inside) -> dict[str, Any]:
    return {"volume_low_m3": inside.low_m3, "volume_high_m3": inside.high_m3}


def _by_volume(key: str, ends: Ends | None) -> dict[str, float | None]:
    """A figure for the usual volume and for the two ends of its range; None where there is none."""
    usual, low, high = (ends.usual, ends.low, ends.high) if ends else (None, None, None)
    return {key: usual, f"{key}_low": low, f"{key}_high": high}


def judge_vacuum(v: Values) -> CheckAnswer:
    """Return the answer of a vacuum hold."""
    rows: tuple[GaugeReading, ...] = v["readings"]
    _ask(v, "barometer", v.barometer_doubt)
    for one in rows:
        vacuum.check_vacuum_pa(one.pressure_pa, v.atmosphere_pa, v.air.high_pa if v.air else None)
    asked = vacuumfits.Vacuum(
        readings=tuple(vacuumfits.VacuumReading(one.time_s, one.pressure_pa) for one in rows),
        temperature_k=v["temperature"],
        refrigerant=v["refrigerant"],
        pressure_step_pa=v["pressure_step"] or max(one.pressure_step_pa for one in rows),
        **_around(v),
        atmosphere_by=v.atmosphere_by,
        gauge_kind=vacuumfits.NEEDLE if any(one.needle for one in rows) else vacuumfits.ABSOLUTE,
    )
    answer = vacuum.judge(asked)
    fits, seen, first, last = answer.fits, answer.seen, asked.readings[0], asked.readings[-1]
    # Four verdicts for scripts: gas out of the oil is no leak and no water, so it stays untold, with the detail beside.
    verdict = "cannot-tell" if answer.verdict == "outgassing" else answer.verdict
    return CheckAnswer.of(
        answer,
        verdict=verdict,
        sentence=_said(answer.sentence, asked.space),
        figures={
            **_volumes(asked.space),
            "verdict_detail": answer.verdict,
            "first_pressure_pa": first.pressure_pa,
            "last_pressure_pa": last.pressure_pa,
            "duration_s": asked.duration_s,
            "rise_pa": asked.rise_pa,
            "rise_pa_per_minute": asked.rise_pa / asked.duration_s * 60,
            "rise_pa_per_hour": fits.line.slope * 3600,
            "u_rise_pa_per_hour": fits.line.u_slope * 3600,
            "atmosphere_pa": asked.atmosphere_pa,
            "atmosphere_by": v.atmosphere_by,
            "water_pa": None if asked.temperature_k is None else fits.water_pa,
            **_by_volume("leak_g_per_year", seen.leak_g),
            **_by_volume("smallest_visible_leak_g_per_year", seen.smallest_g),
        },
        formula="Line, levelling curve to water's pressure, and free curve, by least squares",
        picture=answer.picture,
    )


def judge_recovery(v: Values) -> CheckAnswer:
    """Return the answer of a recovery."""
    oil_high_g = _oil_high_g(v)
    answer = recovery.prove(
        recovery.Recovery(
            refrigerant=v["refrigerant"],
            expected_g=v["expected"],
            u_expected_g=recovery.label_u_g(v["tolerance"]),
            recovered_g=v["recovered"],
            u_recovered_g=machine(v["recovered_limit"]).total_g,
            pressure_pa=v["final_pressure"],
            temperature_k=v["temperature"],
            oil_g=v["oil"],
            oil_high_g=oil_high_g,
            waited_s=v["waited"],
            **_around(v),
            evidence=evidence.Evidence(
                standing=_standing(v, oil_high_g), standing_photographed=v["photographed"] == "yes"
            ),
            said_to_be_empty=v["recovered"] == 0,
        )
    )
    return CheckAnswer.of(
        answer,
        verdict="emptied" if _is_emptied(v, answer) else answer.verdict,
        sentence=_said(answer.sentence, answer.inside),
        workings=(*answer.workings, *(("Would change it", one) for one in answer.would_change)),
        figures={
            **_volumes(answer.inside),
            "verdict_detail": answer.verdict,
            "emptied": answer.emptied,
            "emptied_below_pa": residue.EMPTIED_BELOW_PA,
            "rest_at_most_g": answer.residual_max_g,
            **picked(answer, "residual_max_g missing_g u_missing_g vapour_max_g oil_allowance_g limit_g"),
            "evidence": answer.evidence_letter,
        },
        formula="Short = expected - recovered, against vapour, oil allowance and the give or take of the readings",
    )


def _oil_high_g(v: Values) -> float | None:
    """The most oil that the class has; None where a volume was entered without a class, which says nothing of oil."""
    if v["vehicle_class"] is None:
        return None if v["volume"] is not None else insides.OIL_HIGH_G["car"]
    return insides.OIL_HIGH_G[v["vehicle_class"]]


def _standing(v: Values, oil_high_g: float | None) -> standing.StandingAnswer | None:
    if v["arrival_pressure"] is None:
        return None
    return standing.read_standing(
        standing.Standing(
            refrigerant=v["refrigerant"],
            pressure_pa=v["arrival_pressure"],
            coldest_k=v["temperature"],
            pressure_step_pa=STANDING_STEP_PA,
            oil_g=v["oil"],
            oil_high_g=oil_high_g,
            **_around(v),
        )
    )


def _is_emptied(v: Values, answer: recovery.RecoveryAnswer) -> bool:
    if not answer.emptied or answer.verdict == "arrived empty":
        return False
    return answer.verdict != "accounted for" or v["volume"] is None or v["oil"] is None


HOLD = Check(
    "hold",
    "Pressure hold",
    "What a standing pressure of nitrogen can tell about a leak, and what it cannot.",
    judge_hold,
)
VACUUM = Check("vacuum", "Vacuum hold", "A rise told apart: leak, moisture, or neither.", judge_vacuum)
RECOVERY = Check(
    "recovery", "Recovery", "What should have come out, what did, and what can still be inside.", judge_recovery
)


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
