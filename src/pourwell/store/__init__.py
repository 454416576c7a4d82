"""Patterns, runs and results, kept for good: one SQLite file, and files beside it that are named by what is in them."""
