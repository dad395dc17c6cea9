"""Every measurement alone: a name and values as people type them in, a worked answer in SI units out.

The Checks pages and the command ``reckon`` both use `reckon`, so that they cannot differ. `figures` carries plain
values for scripts: SI units, each key ending in its unit, None where there is no figure.

Where the step of a gauge or thermometer is not given, it is that of the last digit written: "250 psi" was read to
1 psi. An uncertainty that nobody stated is assumed and said among the inputs.

The atmosphere is that of the barometer where one is given, else of the height, else of the workshop; the answer says
which. The verdict of `vacuum` is one of four words, `tight`, `leak`, `moisture`, `cannot-tell`: gas coming out of the
oil is neither leak nor water, so it is `cannot-tell`, and `verdict_detail` then says `outgassing`. How they are told
apart stands at the head of `shop.bench.vacuum`.

Errors: ``CheckFault`` with a sentence and, where it is about one value, its key.
"""

from collections.abc import Mapping
from dataclasses import replace

from inventory.measure import atmosphere
from shop.checks import circuit, cylinder, refrigerant, units
from shop.checks.typed import as_sentence, read_all
from shop.checks.values import Check, CheckAnswer, CheckFault

CHECKS: dict[str, Check] = {
    one.name: one
    for one in (
        circuit.HOLD,
        circuit.VACUUM,
        circuit.RECOVERY,
        cylinder.FILLING,
        cylinder.AIR,
        refrigerant.IDENTIFY,
        refrigerant.SATURATION,
        circuit.PERFORMANCE,
        cylinder.HOSE,
        circuit.LEAK_RATE,
        refrigerant.GWP,
        refrigerant.ODP,
        refrigerant.CO2E,
        units.ATMOSPHERE,
        units.CONVERT,
    )
}


def reckon(
    name: str,
    typed: Mapping[str, str],
    *,
    atmosphere_pa: float = atmosphere.SEA_LEVEL_PA,
    air: atmosphere.Air | None = None,
) -> CheckAnswer:
    """Return the answer of check `name` for values as typed; `atmosphere_pa` holds where no altitude is given.

    `air` says what that lies between in a workshop whose height is not entered.

    Raises ``CheckFault``: an unknown name or key, a missing or unreadable value, readings that cannot be.
    """
    check = find(name)
    values = read_all(check, typed, atmosphere_pa, air)
    try:
        answer = check.judge(values)
    except CheckFault:
        raise
    except (LookupError, ValueError) as error:
        raise CheckFault(as_sentence(error)) from None
    return replace(answer, inputs=tuple(values.echoes))


def find(name: str) -> Check:
    """Return the check of this name; raises ``CheckFault`` naming all of them."""
    if name not in CHECKS:
        raise CheckFault(f"There is no check called {name!r}. There are: {', '.join(CHECKS)}.")
    return CHECKS[name]
