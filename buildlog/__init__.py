"""A build-history ledger for modified road cars."""

__version__ = "0.1.0"
