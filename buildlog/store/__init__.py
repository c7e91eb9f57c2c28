"""The disk and git: writing entries, reading them back, verifying them."""
