"""What a shop writes down, as frozen models: the car, its sessions, checks, faults, fasteners.

May import: errors, findings, channels, units, records.toml, records.fields, records.car.
"""
