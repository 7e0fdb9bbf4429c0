"""Folder `plant` is the package `rungproof.plant`."""
