"""The checks of a circuit: pressure hold, vacuum hold and recovery, from values as read to the answer for scripts.

None of them needs the inside volume: `volume` is one figure, `vehicle_class` the range of a class, and with neither
that of a car is taken; the sentence says so. Keys that end in `_low` and `_high` are at the two ends of the range; the
same key without an end is that of the usual volume in between (a car 2 L). All are equal where the volume is one
figure. A bound (`rest_at_most_g`, `limit_g`) and `time_to_see_limit_s` are those of the high end, the safe one.

`verdict` of a recovery is `emptied` where the circuit stands so (`residue`), but for a vehicle that arrived empty,
and for one whose volume and oil were both entered and whose mass is accounted for: that says more. `verdict_detail` is
the verdict of the mass alone.
"""

from typing import Any

from inventory.measure.uncertainty import machine
from shop.bench import hold, insides, recovery, vacuum
from shop.bench.insides import Inside
from shop.checks.values import CheckAnswer, CheckFault, Reading, Values

STANDING_STEP_PA = 10_000.0


def _inside(v: Values) -> Inside | None:
    """The inside volume as entered or by its class; None where neither was."""
    if v["volume"] is not None:
        return insides.entered(v["volume"])
    return None if v["vehicle_class"] is None else insides.of_class(v["vehicle_class"])


def _ask(v: Values, key: str, doubt: str) -> None:
    """Raise ``CheckFault`` with what is doubtful, unless it was said that it does read so."""
    if doubt and v["as_read"] != "yes":
        raise CheckFault(f"{doubt} If it does read so, say as_read=yes.", key, question=doubt, may_insist=True)


def judge_hold(v: Values) -> CheckAnswer:
    """Return the answer of a pressure hold."""
    rows: tuple[Reading, ...] = v["readings"]
    if len(rows) == 1:
        raise CheckFault("Reading 1 stands alone: a hold needs at least two readings.", "readings")
    asked = hold.Hold(
        readings=tuple(hold.HoldReading(one.time_s, one.pressure_pa, one.temperature_k) for one in rows),
        inside=_inside(v),
        refrigerant=v["refrigerant"] or "",
        pressure_step_pa=v["pressure_step"] or max(one.pressure_step_pa for one in rows),
        temperature_step_k=v["temperature_step"] or max(one.temperature_step_k for one in rows),
        atmosphere_pa=v.atmosphere_pa,
        atmosphere_low_pa=v.air.low_pa if v.air else None,
        atmosphere_high_pa=v.air.high_pa if v.air else None,
        allowed_pa=v["allowed"],
        compensation=v["compensation"] or "ideal",
        gas=v["gas"],
        atmosphere_by=v.atmosphere_by,
    )
    _ask(v, "barometer", v.barometer_doubt)
    answer = hold.judge(asked)
    _ask(v, "readings", " ".join(answer.questions))
    return CheckAnswer(
        verdict=answer.verdict,
        sentence=_said(answer.sentence, answer.inside),
        workings=answer.workings,
        sources=answer.sources,
        cautions=(*answer.cautions, "Where the hold cannot see it, search with bubbles and an electronic detector."),
        figures={
            **_ends(answer.inside),
            "first_pressure_pa": answer.first_pa,
            "last_pressure_pa": answer.last_pa,
            "duration_s": answer.duration_s,
            "pressure_drop_pa": answer.pressure_drop_pa,
            "compensated_drop_pa": 0.0 - answer.compensated_change_pa,
            "u_compensated_drop_pa": answer.u_change_pa,
            "temperature_taken": answer.is_corrected,
            "leak_g_per_year": answer.leak_g_per_year,
            "leak_g_per_year_low": answer.leak_low_g_per_year,
            "leak_g_per_year_high": answer.leak_high_g_per_year,
            "u_leak_g_per_year": answer.u_leak_g_per_year,
            "leak_at_least_g_per_year": answer.leak_least_g_per_year,
            "leak_at_most_g_per_year": answer.leak_most_g_per_year,
            "smallest_visible_leak_g_per_year": answer.smallest_visible_g_per_year,
            "smallest_visible_leak_g_per_year_low": answer.smallest_visible_low_g_per_year,
            "smallest_visible_leak_g_per_year_high": answer.smallest_visible_high_g_per_year,
            "smallest_visible_leak_pa_m3_s_low": answer.smallest_visible_low_pa_m3_s,
            "smallest_visible_leak_pa_m3_s_high": answer.smallest_visible_high_pa_m3_s,
            "time_to_see_limit_s": answer.time_to_see_limit_s,
            "leak_pa_m3_s": answer.leak_pa_m3_s,
            "leak_mbar_l_s": answer.leak_mbar_l_s,
            "above_allowed": answer.above_allowed,
            "gas": asked.gas,
            "atmosphere_pa": v.atmosphere_pa,
            "atmosphere_by": v.atmosphere_by,
            "why_not": answer.why_not,
        },
        formula="q = -V d(p T0 / T) / dt",
        picture=answer.picture,
    )


def _said(sentence: str, inside: Inside) -> str:
    """The sentence; where its verdict needed no volume, with the one that the figures are for, if it is an estimate."""
    if inside.is_one or inside.words in sentence:
        return sentence
    return f"{sentence} Inside volume taken: {inside.words}."


def _ends(inside: Inside) -> dict[str, Any]:
    return {"volume_low_m3": inside.low_m3, "volume_high_m3": inside.high_m3}


def judge_vacuum(v: Values) -> CheckAnswer:
    """Return the answer of a vacuum hold."""
    rows: tuple[Reading, ...] = v["readings"]
    _ask(v, "barometer", v.barometer_doubt)
    for one in rows:
        vacuum.check_vacuum_pa(one.pressure_pa, v.atmosphere_pa, v.air.high_pa if v.air else None)
    answer = vacuum.judge(
        vacuum.Vacuum(
            readings=tuple(vacuum.VacuumReading(one.time_s, one.pressure_pa) for one in rows),
            temperature_k=v["temperature"],
            inside=_inside(v),
            refrigerant=v["refrigerant"],
            pressure_step_pa=v["pressure_step"] or max(one.pressure_step_pa for one in rows),
            atmosphere_pa=v.atmosphere_pa,
            atmosphere_low_pa=v.air.low_pa if v.air else None,
            atmosphere_high_pa=v.air.high_pa if v.air else None,
            atmosphere_by=v.atmosphere_by,
            gauge_kind=vacuum.NEEDLE if any(one.needle for one in rows) else vacuum.ABSOLUTE,
        )
    )
    # Four verdicts for scripts: gas out of the oil is no leak and no water, so it stays untold, with the detail beside.
    verdict = "cannot-tell" if answer.verdict == "outgassing" else answer.verdict
    return CheckAnswer(
        verdict=verdict,
        sentence=_said(answer.sentence, answer.inside),
        workings=answer.workings,
        sources=answer.sources,
        cautions=answer.cautions,
        figures={
            **_ends(answer.inside),
            "verdict_detail": answer.verdict,
            "first_pressure_pa": answer.first_pa,
            "last_pressure_pa": answer.last_pa,
            "duration_s": answer.duration_s,
            "rise_pa": answer.rise_pa,
            "rise_pa_per_minute": answer.rise_pa_per_minute,
            "rise_pa_per_hour": answer.rise_pa_per_hour,
            "u_rise_pa_per_hour": answer.u_rise_pa_per_hour,
            "atmosphere_pa": answer.atmosphere_pa,
            "atmosphere_by": v.atmosphere_by,
            "water_pa": answer.water_pa,
            "leak_g_per_year": answer.leak_g_per_year,
            "leak_g_per_year_low": answer.leak_low_g_per_year,
            "leak_g_per_year_high": answer.leak_high_g_per_year,
            "smallest_visible_leak_g_per_year": answer.smallest_visible_g_per_year,
            "smallest_visible_leak_g_per_year_low": answer.smallest_visible_low_g_per_year,
            "smallest_visible_leak_g_per_year_high": answer.smallest_visible_high_g_per_year,
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
            final_pressure_pa=v["final_pressure"],
            temperature_k=v["temperature"],
            inside=_inside(v),
            oil_g=v["oil"],
            oil_high_g=oil_high_g,
            waited_s=v["waited"],
            atmosphere_pa=v.atmosphere_pa,
            atmosphere_high_pa=v.air.high_pa if v.air else None,
            evidence=recovery.Evidence(
                standing=_standing(v, oil_high_g), standing_photographed=v["photographed"] == "yes"
            ),
            said_to_be_empty=v["recovered"] == 0,
        )
    )
    return CheckAnswer(
        verdict="emptied" if _is_emptied(v, answer) else answer.verdict,
        sentence=_said(answer.sentence, answer.inside),
        workings=(*answer.workings, *(("Would change it", one) for one in answer.would_change)),
        sources=answer.sources,
        cautions=answer.cautions,
        figures={
            **_ends(answer.inside),
            "verdict_detail": answer.verdict,
            "emptied": answer.emptied,
            "emptied_below_pa": recovery.EMPTIED_BELOW_PA,
            "rest_at_most_g": answer.residual_max_g,
            "residual_max_g": answer.residual_max_g,
            "missing_g": answer.missing_g,
            "u_missing_g": answer.u_missing_g,
            "vapour_max_g": answer.vapour_max_g,
            "oil_allowance_g": answer.oil_allowance_g,
            "limit_g": answer.limit_g,
            "evidence": answer.evidence_letter,
        },
        formula="Short = expected - recovered, against vapour and oil allowance plus 2 u",
    )


def _oil_high_g(v: Values) -> float | None:
    """The most oil that the class has; None where a volume was entered without a class, which says nothing of oil."""
    if v["vehicle_class"] is None:
        return None if v["volume"] is not None else insides.OIL_HIGH_G["car"]
    return insides.OIL_HIGH_G[v["vehicle_class"]]


def _standing(v: Values, oil_high_g: float | None) -> recovery.StandingAnswer | None:
    if v["arrival_pressure"] is None:
        return None
    return recovery.read_standing(
        recovery.Standing(
            refrigerant=v["refrigerant"],
            pressure_pa=v["arrival_pressure"],
            coldest_k=v["temperature"],
            pressure_step_pa=STANDING_STEP_PA,
            inside=_inside(v),
            oil_g=v["oil"],
            oil_high_g=oil_high_g,
            atmosphere_pa=v.atmosphere_pa,
            atmosphere_low_pa=v.air.low_pa if v.air else None,
            atmosphere_high_pa=v.air.high_pa if v.air else None,
        )
    )


def _is_emptied(v: Values, answer: recovery.RecoveryAnswer) -> bool:
    if not answer.emptied or answer.verdict == "arrived empty":
        return False
    return answer.verdict != "accounted for" or v["volume"] is None or v["oil"] is None
