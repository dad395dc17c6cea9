"""The forms of the inventory floor: text becomes values here, and nothing is written."""
