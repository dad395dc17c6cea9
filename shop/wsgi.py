"""The application that a server runs."""

import gc
import os

from django.core.handlers.wsgi import WSGIHandler
from django.core.wsgi import get_wsgi_application
from django.urls import get_resolver

from inventory.gases import fluids
from inventory.measure import units

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "shop.settings")
application = get_wsgi_application()


def loaded() -> WSGIHandler:
    """Return the application with what is slow to load loaded already, for a server whose workers part after it.

    Else the first act of each worker that asks for a property of a gas, such as receiving a cylinder, waits for it:
    some three seconds of a processor, and longer on a busy machine. The pages are loaded too, and all that stays is
    left out of the search for rings of objects, which took a tenth of a second of every tenth request.
    """
    fluids.coolprop()
    units.unit_factor("kg", "g")  # its table of units is read at the first
    get_resolver().url_patterns  # noqa: B018 - which loads them
    gc.collect()
    gc.freeze()
    return application
