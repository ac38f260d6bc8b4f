"""Press-cycle logs, one row a shot, drawn together to runs; and hourly air, to the climate of the plants that made them.

`survey.py` looks at the files and parts their rows by time, `sessions.py` draws one part together, `runs.py` joins the parts,
`air.py` is for the climate. DuckDB, an optional extra, is known here alone; what spreads the parts over processes is not.
"""
