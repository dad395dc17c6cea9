"""A partner's list against the book, line by line. Imports the floors below; the pages import it."""
