"""Folder `grammar` is the package `rungproof.grammar`."""
