"""What each kind of document says: a builder from the record to a `Paper`, and the sheet as a PDF. Imports
`statement`; the `documents` wing issues what is built here.
"""
