"""The values that pass between the floors.

Traces, persons, trials and sessions (`records`), the line from counts to newtons (`calibration`), units of force,
local gravity, and the straight line a calibration is fitted with.

In come arrays and plain numbers; out go frozen values and arrays. Nothing here reads a file, a clock or a port, and
nothing here is worded for a reader. May import: `acquire.errors` only.
"""
