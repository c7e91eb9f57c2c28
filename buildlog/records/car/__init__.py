"""The configuration of the car, `car.toml`, an assembly a file.

May import: errors, units, records.fields.
"""
