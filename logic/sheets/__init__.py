"""Bench sheets: what a person with a meter checks, and what must come out, worked out from the same files."""
