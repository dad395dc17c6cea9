"""From the database to the facts that rules look at, and from their judgements to findings, which the owner decides
on. Imports `rules` and the floors below; papers and pages import it.
"""
