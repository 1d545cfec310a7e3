"""A case told in a person's own words: what was heard, what is doubtful, what was not understood.

`hear` reads, `kept` has the words ready; lists on the screens ask `text` alone, so nothing is imported here.
"""
