"""Folder `logic/evidence/chart` is the package `rungproof.logic.evidence.chart`: a run as a strip in time.

In reading order: `strip` (what a chart holds), `waiting` (what a requirement was waiting for),
`gather` (from a run to a strip), `scale` (times and figures on an axis), `chart_svg` and
`chart_text` (the two pictures of it).
"""
