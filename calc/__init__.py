"""The physics of Step in Hand: numpy in, numpy out, SI units, nothing else.

The fence: code in this folder imports numpy and the standard library's pure parts
only. It cannot do any I/O, reads no clock, draws no random number of its own, logs
nothing and keeps no global state. ``tests/test_fences.py`` enforces it.
"""
