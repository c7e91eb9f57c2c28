"""Margins from the flywheel to the final drive, and of bolted joints, a file for each.

May import: physics.numerics, physics.gases, physics.engines, physics.parts, units, records,
analysis.margins.figures.
"""
