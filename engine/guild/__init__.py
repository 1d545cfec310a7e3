"""From one bench to a guild: what a bench gives away, and many of them added up into an experience file.

Giving needs nothing but the program. Adding up needs the extra ``guild`` (DuckDB and pyarrow), and says so without it.
"""
