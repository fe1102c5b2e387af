"""Pure shapely and numpy in metres: sectors, arcs, strips, pieces."""
