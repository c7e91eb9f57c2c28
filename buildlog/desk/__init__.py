"""What a person asks of a ledger or a shop; no click, no printing, no terminal."""
