"""Folder `logic/verbs` is the package `rungproof.logic.verbs`: what the command line does, as functions.

A module for each kind of verb, so that whoever wants one waits for no other; `rungproof.logic.api` has them all.
"""
