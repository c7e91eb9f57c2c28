"""Raw dyno and log files: bytes as they came, into named columns in SI."""
