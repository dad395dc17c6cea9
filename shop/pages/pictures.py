"""What the calculations answer, as the drawings take it: minutes, bar, millibar and kilojoules per kilogram."""

from collections.abc import Sequence

from inventory.output import plots
from inventory.output.svg import Drawing, Point
from shop.bench import hold, holdfacts, performance, vacuum

PA_PER_BAR, PA_PER_MBAR = 1e5, 100.0
FLAT_SHARE = 0.05


def drawing_of(picture: object) -> Drawing | None:
    """Draw what an answer carries as its picture: a hold, a vacuum or the ideal cycle; None for anything else."""
    match picture:
        case hold.HoldPicture():
            return _hold(picture)
        case vacuum.VacuumPicture():
            return _vacuum(picture)
        case performance.Diagram():
            return _cycle(picture)
    return None


def _hold(picture: hold.HoldPicture) -> Drawing:
    (_, start_pa), (end_s, end_pa) = picture.trend
    hours = end_s / 3600
    limit_pa = 0.0 if picture.limit is None else picture.limit[0][1] - picture.limit[1][1]
    return plots.hold(
        plots.HoldPicture(
            minutes=[time_s / 60 for time_s, _, _ in picture.points],
            pressures=[pressure_pa / PA_PER_BAR for _, pressure_pa, _ in picture.points],
            u=picture.points[0][2] / PA_PER_BAR,
            slope=(end_pa - start_pa) / PA_PER_BAR / hours,
            blind=abs(picture.blind[0][1] - picture.blind[1][1]) / PA_PER_BAR,
            limit_slope=limit_pa / PA_PER_BAR / hours,
            limit_words="" if picture.limit is None else f"{holdfacts.LIMIT_G_PER_YEAR:g} g a year",
            unit="bar absolute",
            sentence="Pressure as at the first temperature; a leak inside the band would not have been seen.",
        )
    )


def _vacuum(picture: vacuum.VacuumPicture) -> Drawing:
    curves = picture.curves
    pressures = [pressure_pa for _, pressure_pa in picture.points]
    if max(pressures) - min(pressures) < FLAT_SHARE * max(picture.water_pa or 0.0, *pressures):
        curves = curves[:1]  # the fits lie on each other
    return plots.vacuum(
        _minutes_mbar(picture.points),
        water_mbar=None if picture.water_pa is None else picture.water_pa / PA_PER_MBAR,
        fits=[plots.Fit(name, _minutes_mbar(points)) for name, points in curves],
        sentence="Absolute pressure after the pump was shut off, and water's own pressure.",
    )


def _minutes_mbar(points: Sequence[Point]) -> list[Point]:
    return [(time_s / 60, pressure_pa / PA_PER_MBAR) for time_s, pressure_pa in points]


def _cycle(picture: performance.Diagram) -> Drawing:
    boiling = [(liquid / 1000, pressure_pa / PA_PER_BAR) for pressure_pa, liquid, _ in picture.dome]
    dry = [(vapour / 1000, pressure_pa / PA_PER_BAR) for pressure_pa, _, vapour in reversed(picture.dome)]
    return plots.pressure_enthalpy(
        [*boiling, *dry],
        [
            plots.State(state.words, state.enthalpy_j_kg / 1000, state.pressure_pa / PA_PER_BAR)
            for state in picture.states
        ],
        ambient_bar=None if picture.ambient_pa is None else picture.ambient_pa / PA_PER_BAR,
        sentence="The ideal cycle between the two pressures as read: a drawing to compare with, not a measurement.",
    )
