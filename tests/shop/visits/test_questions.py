"""Questions that a workshop leaves out: no longer listed, while papers, findings and other workshops have them all."""
