"""Folder `logic/evidence/drawn` is the package `rungproof.logic.evidence.drawn`: rungs as SVG.

In reading order: `metrics` (how wide text may come out), `shapes` (the items of a drawing and how
blocks of them join), `nets` (which wire has power when), `draughtsman` (elements to blocks),
`references` and `notes` (what stands beside a rung), `ink` (items to SVG), `rung_svg` (the front
door), `index_page` (a folder of drawings).
"""
