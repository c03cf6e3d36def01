"""Teach, prove and diagnose mechanical code decoders."""
