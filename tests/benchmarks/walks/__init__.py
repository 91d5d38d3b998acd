"""Counted walks of a planner, a manager and an auditor through the pages, in a real browser. See bench_clicks."""
