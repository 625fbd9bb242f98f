"""What managers measure: each figure with its definition and the cases it is made of."""
