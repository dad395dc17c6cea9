"""The pages of this floor: access, addresses, drawings; fields, forms, lists and files, views. Imports everything
below; only pages import pages, here and on the floors above.
"""
