"""The mass book: the one door by which a line is written, its draft and balances, weighings and what they say,
differences, the guards in the database and the audit. Imports `models`, `causes`, `gases` and `measure`; knows
no page and no act.
"""
