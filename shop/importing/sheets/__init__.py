"""A spreadsheet kept elsewhere: opened (`opening`), its columns matched (`columns`), its cells read (`cells`), each row
as movements (`moves`), and all of it into the book (`into`).
"""
