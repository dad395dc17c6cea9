"""What the calculations answer, as the drawings take it: minutes, bar, millibar and kilojoules per kilogram."""

from inventory import drawings
from inventory.drawings import Drawing
from shop.answers import yearly
from shop.hold import LIMIT_G_PER_YEAR, HoldAnswer
from shop.performance import RunningAnswer
from shop.vacuum import VacuumAnswer

PA_PER_BAR, PA_PER_MBAR = 1e5, 100.0


def of_hold(answer: HoldAnswer, atmosphere_pa: float) -> drawings.HoldPicture:
    """Return the picture of a pressure hold, in bar gauge over minutes."""
    picture = answer.picture
    (start_s, start_pa), (end_s, end_pa) = picture.trend
    hours = (end_s - start_s) / 3600
    limit_pa = 0.0 if picture.limit is None else picture.limit[0][1] - picture.limit[1][1]
    return drawings.HoldPicture(
        minutes=[time_s / 60 for time_s, _, _ in picture.points],
        pressures=[(pressure_pa - atmosphere_pa) / PA_PER_BAR for _, pressure_pa, _ in picture.points],
        u=picture.points[0][2] / PA_PER_BAR,
        slope=(end_pa - start_pa) / PA_PER_BAR / hours,
        blind=abs(picture.blind[0][1] - picture.blind[1][1]) / PA_PER_BAR,
        limit_slope=limit_pa / PA_PER_BAR / hours,
        limit_words="" if picture.limit is None else yearly(LIMIT_G_PER_YEAR),
        unit="bar gauge",
        sentence=answer.sentence,
    )


def of_vacuum(answer: VacuumAnswer) -> Drawing:
    """Draw a vacuum hold, in millibar over minutes."""
    picture = answer.picture

    def points(of: tuple[tuple[float, float], ...]) -> list[tuple[float, float]]:
        return [(time_s / 60, pressure_pa / PA_PER_MBAR) for time_s, pressure_pa in of]

    return drawings.vacuum(
        points(picture.points),
        water_mbar=picture.water_pa / PA_PER_MBAR,
        fits=[drawings.Fit(name, points(curve)) for name, curve in picture.curves],
        sentence=answer.sentence,
    )


def of_running(answer: RunningAnswer) -> Drawing:
    """Draw the ideal cycle on pressure and enthalpy."""
    diagram = answer.diagram
    boiling = [(liquid / 1000, pressure_pa / PA_PER_BAR) for pressure_pa, liquid, _ in diagram.dome]
    dry = [(vapour / 1000, pressure_pa / PA_PER_BAR) for pressure_pa, _, vapour in reversed(diagram.dome)]
    states = [
        drawings.State(state.words, state.enthalpy_j_kg / 1000, state.pressure_pa / PA_PER_BAR)
        for state in diagram.states
    ]
    ambient = None if diagram.ambient_pa is None else diagram.ambient_pa / PA_PER_BAR
    return drawings.pressure_enthalpy([*boiling, *dry], states, ambient_bar=ambient, sentence=answer.sentence)
