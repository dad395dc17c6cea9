"""The invented year: the same every time. Imports whatever a person can do; only its command imports it."""
