"""Issuing and checking documents: number, seal, check code. Imports `papers`; `readers` and the pages import it."""
