"""Folder `logic/meaning` is the package `rungproof.logic.meaning`."""
