"""What stands on the shelf: what a cylinder holds and may hold, what a reading of it can be, air checks, photos.
Imports `book` and below; the acts and the pages import it.
"""
