"""The flask: which one, and the investment to mix for it."""
