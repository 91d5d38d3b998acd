"""The trends of the results of machines: what is read from the records, stored as forecasts and shown."""
