"""
A company's master data from a folder of CSV files: looked at as a whole, every bad row named, nothing written until
every row is right.

`sheets` reads the files, `tables` says what each column holds, `checks` finds what is wrong, `company` is the use case.
"""
