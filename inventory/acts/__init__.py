"""What people do with cylinders and partners: one function, one transaction, one entry of the book. Imports `shelf`
and below; the pages import it, and the acts of the shop floor.
"""
