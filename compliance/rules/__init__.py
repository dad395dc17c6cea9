"""What the law and the trade ask, as rules over facts alone. Pure: the study judges simulated years with the same
code. Imports `inventory.gases` and `measure`; `findings` and the pages import it.
"""
