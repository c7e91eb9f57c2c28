"""What records are made of: the base of every record, kinds of field, traits, what a part carries.

May import: errors, units, records.toml.
"""
