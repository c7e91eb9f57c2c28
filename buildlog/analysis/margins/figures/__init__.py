"""What both sides of a margin are made of: the car that is asked, figures that several margins
share (a file for each subject), and the row that puts a demand against a capacity.

May import: findings, physics.numerics, physics.gases, physics.engines, physics.parts, units,
records.car, records, analysis.car.
"""
