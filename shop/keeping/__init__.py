"""Copies of everything, made while the book is served, proved, and brought back into an empty place.

`databases` copies and fills a database of each kind, `copies` is the file of a copy, `backup` and `restore` are what
the commands of these names do. Imports models; commands and pages import it.
"""
