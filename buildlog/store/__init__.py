"""The disk and git: the one write path, and everything that reads it back."""
