"""The calculations as a page and a command ask for them: values as typed, an answer in words and for scripts. Pure.
Imports `bench`; the pages and the command `reckon` import it.
"""
