"""
Tables as CSV files: read as plain values, judged by cell and by row, written so that they read back the same.

`reading` takes a file apart, `cells` says what one cell may hold, `checking` names bad rows, `writing` makes files.
"""
