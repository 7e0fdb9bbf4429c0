"""Folder `logic/commands` is the package `rungproof.logic.commands`."""
