"""The gas circuit of a machine: built from its parts, solved, and asked what can reach the patient. Plain Python."""
