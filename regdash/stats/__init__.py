"""
Counts in, frozen results out: the statistics, one family of methods a module. Nothing here knows a
database, a file or a screen; nothing is random, and nothing is changed in place.
"""
