"""What a text shows after the repair, and the shortest text that shows everything."""
