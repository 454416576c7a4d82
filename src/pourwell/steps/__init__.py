"""The job in its order: pattern, tree, flask, melt, burnout, pour, day.

Each step: model (words), plan (computes), checks (findings).
"""
