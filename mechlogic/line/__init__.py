"""The machine on its line: characters sent through a serial adapter, and what comes back."""
