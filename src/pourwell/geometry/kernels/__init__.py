"""Compiled loops of the geometry; each has a readable twin in `reference.py`, and one test holds the two together."""
