"""Regression, statistics, sampling, constants: mathematics that knows nothing of cars.

May import: nothing.
"""
