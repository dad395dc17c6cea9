"""Issuing a document and checking one: number, seal, check code. Imports `papers`; `readers` and the pages import it."""
