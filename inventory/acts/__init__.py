"""What people do with cylinders and partners: one function, one transaction, one entry of the book. Imports `shelf`
and below; the pages import it, and the acts of the shop floor.

What is about to be done is refused where a rule of the trade forbids it (a single-trip cylinder filled, a limit
passed), with the way out. What has happened can always be entered (`happened=True`); it then stands for all to see.
Masses in milligrams; safe to press twice. Every act raises `LedgerError` with a sentence for the person.
"""
