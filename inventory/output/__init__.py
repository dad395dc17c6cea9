"""How things are written when they leave: days in words, drawings as SVG, files of rows. It knows nothing of the book:
values in, text or bytes out. Imports `measure` alone; every wing above may import it.
"""
