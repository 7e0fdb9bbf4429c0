"""Folder `logic` is the package `rungproof.logic`."""
