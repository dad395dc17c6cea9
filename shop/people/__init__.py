"""People, their vehicles and instruments, as records: the set-up, which vehicle is meant, two records of one,
what is private. Imports `models`; `visits` and the pages import it, `certificates` also the rules above.
"""
