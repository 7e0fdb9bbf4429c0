"""Questions that a reviewer should put: what the files leave open, worked out from the files.

Folder logic/report/questions *is* rungproof.logic.report.questions.

question    one question, and why it is put
spoken      who speaks of what: requirements, tags, devices, drives
hazards     hazards that nothing stands against, or nothing that looks at the machine
sentences   sentences that promise more than their formula
signals     inputs, outputs and devices that no requirement speaks of; stops that something stands beside
times       presets, retained values, two hands, power that comes back
evidence    what the verdicts, the faults and the exclusions leave open
every       all of them, in the order of a review
"""
