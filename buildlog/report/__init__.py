"""Results to text, JSON, figures and pages; nothing here calculates. Lines, numbers, weights.

May import: findings, units, analysis.car.
"""
