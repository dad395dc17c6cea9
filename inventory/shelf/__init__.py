"""What stands on the shelf: what a cylinder holds and may hold, what a reading of it can be, air checks, photos,
what lists of lines ask for and what a line says. Imports `book` and below; the acts, the pages and the floors above
import it; knows nothing of the web.
"""
