"""The pages of this floor: the request's workshop, forms, lists, views and their addresses. Imports everything below;
only pages import pages.
"""
