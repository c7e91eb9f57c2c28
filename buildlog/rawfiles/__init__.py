"""Raw dyno files of any shape to named columns in SI.

May import: errors, findings, channels, units.
"""
