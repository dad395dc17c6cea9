"""What is shown of a cylinder's limit, and of what its content asks to mind."""

from dataclasses import dataclass
from datetime import datetime

from inventory.gases import catalogue, filling
from inventory.gases.cautions import Caution, cautions_for
from inventory.models import Cylinder
from inventory.models.access import Access
from inventory.shelf.limits import filling_limit


@dataclass(frozen=True)
class LimitShown:
    """What a cylinder may hold, in milligrams, and the words around it."""

    limit_mg: int | None
    room_mg: int | None
    rule: str
    source: str
    note: str
    from_memory: bool
    refusal: str


def limit_shown(cylinder: Cylinder, code: str, held_mg: int, access: Access, today: datetime) -> LimitShown:
    """Return the limit that governs a cylinder for what is or is meant to be in it."""
    refusal = filling.refusal(cylinder.kind, cylinder.requalify_by, today.date()) or ""
    limit = filling_limit(cylinder, code, access.jurisdiction)
    if limit is None:
        return LimitShown(None, None, "", "", "", False, refusal)
    limit_mg = round(limit.max_net_g * 1000)
    return LimitShown(limit_mg, limit_mg - held_mg, limit.words, limit.source, limit.note, limit.from_memory, refusal)


def content_cautions(code: str) -> list[Caution]:
    """Return the cautions of a content that is known: that it burns, that it stands under high pressure."""
    places = []
    if catalogue.refrigerant(code).flammable:
        places.append("flammable")
    if code == "R-744":
        places.append("r-744")
    return cautions_for(*places)
