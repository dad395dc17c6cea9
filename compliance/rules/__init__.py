"""The rules: one small pure module for each jurisdiction, and those of the book, which hold everywhere."""
