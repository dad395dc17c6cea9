"""A visit and its steps: the kinds of step, what they took in, what they say together, the acts that move mass, what is
owed. Imports `people`, `bench` and `models`; the pages import it, and the rules' facts on the floor above.
"""
