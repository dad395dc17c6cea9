"""The mass book: the one door by which a line is written (`ledger`), its `draft` and balances, its `chain`, what is
refused, weighings and what they say, differences, the guards in the database and the audit. Imports `models`, `causes`,
`gases` and `measure`; knows no page and no act, and nothing of the web.
"""
