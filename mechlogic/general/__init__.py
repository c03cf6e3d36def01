"""What knows no machine: refusals, files never half written, JSON and TOML lines, covers."""
