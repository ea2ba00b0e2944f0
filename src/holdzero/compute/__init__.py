"""The computing: pure functions, values in and values out; no files, no database, no clock.

One room each for what is asked of a machine: `spread` and `findings` read its homings, `choose` decides,
`budget`, `travel`, `wiring` and `square` work out the machine itself.
"""
