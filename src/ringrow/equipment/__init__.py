"""What stands in a field: pivots, drip blocks, wells, kinds of flag."""
