"""Rules of the book, whatever the jurisdiction. Pure.

They are practice, not law: where law says more, its module does. A *breach* stands only where the record itself shows
that gas could not but go into the air, or that a vessel was filled that must not be. Patterns in a year's records that
honest work rarely makes are arithmetic about records: they say "unusual" with their n, never more, and name what to
look at. Their thresholds are tuned with the study on one range of seeds and measured on another; why each stands there
is beside its name.
"""
