"""Folder `logic/evidence/replay` is the package `rungproof.logic.evidence.replay`: a run to step through, as one page.

In reading order: `recorder` (which wires have power when), `frames` (a run as frames), `page`
(frames, chart, events and rungs as one HTML file), `page.js` and `page.css`, which it holds.
"""
