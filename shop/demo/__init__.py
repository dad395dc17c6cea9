"""The invented year: who is there (`cast`), what happened (`story`, told once), played the same every time (`year`).

Imports whatever a person can do; only its command imports it, and the tests of the acceptance scenarios its story.
"""
