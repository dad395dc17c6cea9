"""Years that were kept elsewhere, read from a table and written into the book as one job. Imports `visits` and below;
the pages and two commands import it.
"""
