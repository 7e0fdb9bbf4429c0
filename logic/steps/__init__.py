"""Folder `logic/steps` is the package `rungproof.logic.steps`."""
