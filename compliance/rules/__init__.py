"""What the law and the trade ask, as rules over facts alone. Pure: the study judges simulated years with the same
code. What is written of each rule is data, in `duties.csv`.
Imports `inventory.gases` and `measure`; `findings` and the pages import it.
"""
