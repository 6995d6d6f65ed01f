"""
What a chandler knows: pure functions and frozen records.

Nothing here reads a clock, a database or a file, except the packaged tables in ``rules``.
"""
