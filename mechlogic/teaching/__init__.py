"""Exercises from a number, sealed faults, the club evening, what a student has done."""
