"""The application that a server runs."""

import os

from django.core.handlers.wsgi import WSGIHandler
from django.core.wsgi import get_wsgi_application

from inventory.gases import fluids

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "shop.settings")
application = get_wsgi_application()


def loaded() -> WSGIHandler:
    """Return the application with what is slow to load loaded already, for a server whose workers part after it.

    Else the first act of each worker that asks for a property of a gas, such as receiving a cylinder, waits for it:
    some three seconds of a processor, and longer on a busy machine.
    """
    fluids.coolprop()
    return application
