"""Folder `logic/evidence` is the package `rungproof.logic.evidence`."""
