"""Quantities as people type and read them: units, masses in milligrams, uncertainty, what a scale can show, numbers and
marks that are read off a label. Pure, and at the bottom: imports nothing of ours, and everything may import it.
"""
