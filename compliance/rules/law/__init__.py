"""What rules of law of several countries ask of the record alike. Pure. `us`, `eu` and `india` import it."""
