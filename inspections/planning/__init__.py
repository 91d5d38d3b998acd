"""Which planning rule wins, lives of components, risk score and interval, codes and rates of failure. Plain Python."""
