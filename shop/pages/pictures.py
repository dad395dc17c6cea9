"""What the calculations answer, as the drawings take it: minutes, the reader's pressures, kilojoules per kilogram."""

from collections.abc import Sequence

from inventory.measure.own import Units, pascals
from inventory.measure.spoken import in_own_units
from inventory.output import plots
from inventory.output.svg import Drawing, Point
from shop.bench import hold, holdfacts, performance, vacuum

FLAT_SHARE = 0.05


def drawing_of(picture: object, units: Units) -> Drawing | None:
    """Draw what an answer carries as its picture: a hold, a vacuum or the ideal cycle; None for anything else.

    Pressures are in the units of who looks at it, counted from nothing.
    """
    match picture:
        case hold.HoldPicture():
            return _hold(picture, units)
        case vacuum.VacuumPicture():
            return _vacuum(picture, units)
        case performance.Diagram():
            return _cycle(picture, units)
    return None


def _hold(picture: hold.HoldPicture, units: Units) -> Drawing:
    one_pa = pascals(units.pressure)
    (_, start_pa), (end_s, end_pa) = picture.trend
    hours = end_s / 3600
    limit_words = in_own_units(f"{holdfacts.LIMIT_G_PER_YEAR:g} g a year", units)
    limit_pa = 0.0 if picture.limit is None else picture.limit[0][1] - picture.limit[1][1]
    return plots.hold(
        plots.HoldPicture(
            minutes=[time_s / 60 for time_s, _, _ in picture.points],
            pressures=[pressure_pa / one_pa for _, pressure_pa, _ in picture.points],
            u=picture.points[0][2] / one_pa,
            slope=(end_pa - start_pa) / one_pa / hours,
            blind=abs(picture.blind[0][1] - picture.blind[1][1]) / one_pa,
            limit_slope=limit_pa / one_pa / hours,
            limit_words="" if picture.limit is None else limit_words,
            unit=f"{units.pressure} absolute",
            sentence="Pressure as at the first temperature; a leak inside the band would not have been seen.",
        )
    )


def _vacuum(picture: vacuum.VacuumPicture, units: Units) -> Drawing:
    one_pa = pascals(units.vacuum)
    curves = picture.curves
    pressures = [pressure_pa for _, pressure_pa in picture.points]
    if max(pressures) - min(pressures) < FLAT_SHARE * max(picture.water_pa or 0.0, *pressures):
        curves = curves[:1]  # the fits lie on each other
    return plots.vacuum(
        _by_minutes(picture.points, one_pa),
        water=None if picture.water_pa is None else picture.water_pa / one_pa,
        fits=[plots.Fit(name, _by_minutes(points, one_pa)) for name, points in curves],
        unit=units.vacuum,
        sentence="Absolute pressure after the pump was shut off, and water's own pressure.",
    )


def _by_minutes(points: Sequence[Point], one_pa: float) -> list[Point]:
    return [(time_s / 60, pressure_pa / one_pa) for time_s, pressure_pa in points]


def _cycle(picture: performance.Diagram, units: Units) -> Drawing:
    one_pa = pascals(units.pressure)
    boiling = [(liquid / 1000, pressure_pa / one_pa) for pressure_pa, liquid, _ in picture.dome]
    dry = [(vapour / 1000, pressure_pa / one_pa) for pressure_pa, _, vapour in reversed(picture.dome)]
    return plots.pressure_enthalpy(
        [*boiling, *dry],
        [plots.State(state.words, state.enthalpy_j_kg / 1000, state.pressure_pa / one_pa) for state in picture.states],
        ambient=None if picture.ambient_pa is None else picture.ambient_pa / one_pa,
        unit=units.pressure,
        sentence="The ideal cycle between the two pressures as read: a drawing to compare with, not a measurement.",
    )
