"""What people do at a visit: one function per act, one transaction; the mass goes through the book's one door."""
