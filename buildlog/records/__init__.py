"""What a shop writes down, as frozen models: the car, its sessions, checks, faults, fasteners.

May import: errors, findings, units, records.toml.
"""
