"""What if it breaks: every fault of a model, alone and in pairs, and what is seen of it.

Folder logic/faults *is* rungproof.logic.faults.

variants     what can fail, and how it comes: for good, on and off, for a moment
result       the table as data
series       what a run told, as steps in time
eyes         what people can see of a machine, and its declared safe states
situations   the machine at rest, in operation, and what is then asked of it
alike        faults that no run can tell apart
judge        one run beside the same run without the fault
table        all of it
"""
