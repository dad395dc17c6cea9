"""Values as typed for every check, and the command asked for an answer."""

import json
from io import StringIO
from typing import Any

from django.core.management import call_command

TYPED: dict[str, dict[str, str]] = {
    "saturation": {"refrigerant": "r134a", "temperature": "25 C"},
    "filling": {"refrigerant": "r134a", "water_capacity": "26.2 lb", "tare": "7 kg", "gross": "13 kg"},
    "air": {"refrigerant": "r134a", "temperature": "70 F", "pressure": "76 psi"},
    "identify": {"pressure": "4.7 bar", "temperature": "20 C"},
    "hold": {"readings": "0 min 250 psi 20 C; 20 min 249 psi 20 C", "volume": "2 L", "refrigerant": "r134a"},
    "vacuum": {"readings": "0 min 500 micron; 10 min 520 micron; 20 min 540 micron", "temperature": "20 C"},
    "recovery": {
        "expected": "550 g",
        "recovered": "512 g",
        "final_pressure": "0 bar",
        "volume": "2 L",
        "temperature": "20 C",
        "refrigerant": "r134a",
    },
    "hose": {"refrigerant": "r134a", "length": "1.8 m", "bore": "5 mm", "temperature": "20 C"},
    "leak-rate": {"method": "annualising", "added": "120 g", "full_charge": "600 g", "days": "365"},
    "gwp": {"refrigerant": "r134a", "basis": "ar4"},
    "odp": {"refrigerant": "r12"},
    "co2e": {"mass": "0.5 kg", "refrigerant": "r134a", "basis": "AR4"},
    "atmosphere": {"altitude": "1500 m"},
    "convert": {"value": "250 psi", "to": "bar"},
    "performance": {"refrigerant": "r134a", "low": "2 bar", "high": "14 bar"},
}


def reckon(name: str, **other: str) -> dict[str, Any]:
    typed = TYPED[name] | other
    out = StringIO()
    call_command("reckon", name, "--json", *(f"{key}={text}" for key, text in typed.items() if text), stdout=out)
    answer: dict[str, Any] = json.loads(out.getvalue())
    return answer
