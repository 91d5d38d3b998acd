"""The gas circuit of a machine: built from components, solved, and checked for hazards. Plain Python."""
