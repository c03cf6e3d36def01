"""Machine-independent helpers: error classes, atomic file writes, line numbers, set covers, SVG."""
