"""The trends of the results of machines: what is read from the records, stored as forecasts, shown and asked about.

A trend is fitted to all machines of a test at once (`inspections/trends/`). The nightly job `trend-forecasts` stores a
`TrendForecast` for each result; a signature requests those of its machine. `tests/benchmarks/bench_trends.py` prints
how many intervals hold what came: 88 to 92 % is the goal.
"""
