"""Oil, springs and the cycle: who is late, who bounces, and what the line allows."""
