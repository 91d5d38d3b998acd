"""The gas circuit of a machine: built from components, solved, and checked for what can reach the patient. Plain Python."""
