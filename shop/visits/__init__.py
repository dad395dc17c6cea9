"""A visit and its steps: the kinds of step as data and what is still asked, what the steps say together (`verdicts`),
how the log says it, the `acts` that write steps and move mass. Imports `people`, `bench` and `models`;
the pages import it, and the rules' facts on the floor above.
"""
