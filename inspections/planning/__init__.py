"""Which planning rule wins, when components are due, and intervals by risk score. Plain Python."""
