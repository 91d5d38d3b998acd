"""What is to be done with a machine that has reached its end: the items, and who did each."""
