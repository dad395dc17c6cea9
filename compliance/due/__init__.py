"""What falls due, and how people hear of it: in the list on the first page, by mail, in a calendar.

`falling` is the one function that says what falls due; `standing` reads from the database what it looks at, `words`
says it. Imports findings and what stands below; pages import it.
"""
