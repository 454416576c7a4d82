"""The pattern: what it is, what it measures, what it will weigh."""
