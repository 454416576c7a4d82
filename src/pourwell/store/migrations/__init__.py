"""How the tables came to be, in numbered steps; each is one transaction that also records itself."""
