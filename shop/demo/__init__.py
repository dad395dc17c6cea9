"""Invented years: a told one of thirty lines (`story`, `year`), and a living one that ends today (`living`).

Imports whatever a person can do; only its command imports it, and tests: those of the acceptance scenarios its story,
the study of the rules its `plans`.
"""
