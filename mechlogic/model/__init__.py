"""What a machine is: codes, laws, parts, outputs, faults, and how it behaves with them."""
