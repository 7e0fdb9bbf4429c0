"""Runs written down for other programs: value change dumps, tables, test reports."""
