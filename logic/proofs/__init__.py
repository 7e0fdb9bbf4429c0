"""Folder `logic/proofs` is the package `rungproof.logic.proofs`."""
