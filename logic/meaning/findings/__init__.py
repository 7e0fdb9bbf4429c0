"""Folder `logic/meaning/findings` is the package `rungproof.logic.meaning.findings`."""
