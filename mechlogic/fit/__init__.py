"""Millimetres: linkages, the hammer, tolerances, and which stop to move."""
