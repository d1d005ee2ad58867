"""The physics and chemistry of live-culture drinks, as plain functions on plain numbers.

Units stand in the argument names. A value outside the range a formula was published for
raises `OutOfRange`, whose message can be shown as it is. Nothing here knows of records,
pages or the database.
"""
