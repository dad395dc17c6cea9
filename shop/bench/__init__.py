"""What is measured at a vehicle, judged: pressure hold, vacuum, recovery, leak rate, leak search, charging, running
test. Pure: SI values in, frozen dataclasses out. Imports only `inventory.measure` and `inventory.gases`; everything
may import it.
"""
