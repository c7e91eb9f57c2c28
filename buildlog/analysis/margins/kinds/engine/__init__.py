"""Margins of the engine and what hangs on it, a file for each.

May import: physics.numerics, physics.gases, physics.engines, physics.parts, units, records,
analysis.margins.figures.
"""
