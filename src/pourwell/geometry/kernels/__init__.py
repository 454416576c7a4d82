"""Compiled loops of the geometry; each has a readable twin in a `reference` module, and one test holds the two together."""
