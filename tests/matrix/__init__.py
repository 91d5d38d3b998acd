"""Who may do what: every address asked with every method as every group, in real requests.

python -m tests.matrix            print the table
python -m tests.matrix --write    put it into DEVELOPERS.md
"""
