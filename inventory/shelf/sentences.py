"""What a reading and a cylinder say in a sentence: beside the book, beside the paper, of the room and the heel."""

from inventory.book.holdings import Content
from inventory.book.weighing import Settled
from inventory.gases import filling, fluids
from inventory.measure.displays import in_book, small
from inventory.measure.figures import show_mass
from inventory.models import Cylinder
from inventory.shelf.limits import filling_limit
from inventory.shelf.queries import content_of


def times(gap_mg: int, can_tell_mg: int) -> str:
    """Return how often a difference holds what its readings can tell: "2.3 times"; "beyond" where they tell nothing."""
    return f"{abs(gap_mg) / can_tell_mg:.1f} times" if can_tell_mg else "beyond"


def difference_sentence(settled: Settled, unit: str) -> str:
    """Return how a reading compares with the book."""
    gap = settled.difference_mg
    if gap == 0:
        return "as the book has it"
    said = f"{small(abs(gap), unit)} {'more' if gap > 0 else 'less'} than the book"
    tell = small(settled.can_tell_mg, unit)
    if settled.agrees:
        return f"{said}: agrees (the readings can tell {tell})"
    return f"{said}: unexplained, {times(gap, settled.can_tell_mg)} what the readings can tell"


def paper_sentence(net_mg: int, u_mg: float, paper_mg: int | None, unit: str = "kg") -> str:
    """Return how a weighed mass compares with the one on the paper; empty where there is none.

    The paper is taken as it stands: what the readings can tell is twice the standard uncertainty of the weighed mass.
    """
    if paper_mg is None:
        return ""
    says = f"Paper says {show_mass(paper_mg, unit=unit)}"
    gap_mg = net_mg - paper_mg
    if gap_mg == 0:
        return f"{says}: the same."
    way = "more" if gap_mg > 0 else "less"
    found = f"weighed {small(abs(gap_mg), unit)} {way}"
    can_tell_mg = round(2 * u_mg)
    if abs(gap_mg) <= can_tell_mg:
        return f"{says}, {found}: within what the readings can tell ({small(can_tell_mg, unit)})."
    return f"{says}, {found}: {times(gap_mg, can_tell_mg)} what the readings can tell. Ask the supplier."


def room_sentence(target: Cylinder, content: Content | None, jurisdiction: str, unit: str) -> str:
    """Return how much more a cylinder can take of a content, and by which rule; empty where no limit is known."""
    held = content_of(target.account)
    code = held[0] if held else (content[0] if content else target.refrigerant)
    limit = filling_limit(target, code, jurisdiction)
    if limit is None:
        return f"No filling limit is known for {target}: its water capacity or the gas’s figure is missing."
    room_mg = limit.max_net_mg - (held[2] if held else 0)
    return f"{target} can take {in_book(max(room_mg, 0), unit)} more ({limit.words})."


def heel_sentence(cylinder: Cylinder, content: Content | None, temperature_k: float | None) -> str:
    """Return how much of what is left is vapour alone at a temperature; empty where nothing can be said."""
    if content is None or temperature_k is None or cylinder.water_capacity_m3 is None:
        return ""
    code, _, held_mg = content
    capacity = cylinder.water_capacity_m3
    try:
        vapour_g = filling.vapour_only_g(code, water_capacity_m3=capacity, temperature_k=temperature_k)
        share = filling.liquid_fraction(
            code, held_g=held_mg / 1000, water_capacity_m3=capacity, temperature_k=temperature_k
        )
        liquid_g = share * capacity * fluids.liquid_density_kg_m3(code, temperature_k) * 1000
    except fluids.FluidError as error:
        return str(error)
    celsius = temperature_k - fluids.ZERO_CELSIUS_K
    said = (
        f"Not empty: a {capacity * 1000:.3g} L bottle whose liquid is gone still holds about {vapour_g:.0f} g of "
        f"vapour at {celsius:.3g} °C"
    )
    return f"{said}; some {liquid_g:.0f} g is liquid." if liquid_g >= 1 else f"{said}."
