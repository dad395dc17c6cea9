"""The pages of this floor: addresses, panels, running an act; fields, forms, tables, views. Imports everything
below; only pages import pages, here and on the floors above.
"""
