"""Folder `logic/checks` is the package `rungproof.logic.checks`."""
