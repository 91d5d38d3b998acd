"""Exposure by hazard over time: past from the circuits of earlier days, ahead under each decision; stored and shown."""
