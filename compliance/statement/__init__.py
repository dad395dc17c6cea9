"""The year's figures: balances, CO2 equivalents, their layout and their files. Imports the floors below; papers,
readers and pages import it.
"""
