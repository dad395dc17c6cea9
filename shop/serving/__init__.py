"""Serving a book from the workshop's own machine: where it listens, under which names, with what it keeps beside it.

``python -m shop.serving demo|run`` decides the environment of the server, prepares the database, says where the pages
are reached, and becomes gunicorn. Django is known to `start` and `faults` alone; `start` loads it once all is decided.
Imports nothing of the shop; pages import `trust`, which reads the authority's certificate.
"""
