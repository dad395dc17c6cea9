"""Links for readers: one statement, one vehicle or a set of documents, until a day. Imports the models; pages import
it.
"""
