"""Folder `logic/engines` is the package `rungproof.logic.engines`."""
