"""Pure equations of the trade, one module per phenomenon, each usable alone.

Everything is in coherent SI units; every function states unit, range and source. What comes from practice and
was not checked against a public source says "typical, unverified". Functions meant to stand inside the
equations of a part are plain arithmetic and numpy ufuncs, so they take numbers, arrays and symbols alike.
"""
