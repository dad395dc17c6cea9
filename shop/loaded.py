"""The application with what is slow to load loaded already: a server takes it before its workers part.

Else the first act of each worker that asks for a property of a gas, such as receiving a cylinder, waits for it: some
three seconds of a processor, and longer on a busy machine.
"""

from inventory.gases import fluids
from shop.wsgi import application

__all__ = ["application"]

fluids.coolprop()
