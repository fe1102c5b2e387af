"""A field's systems and boundary together: acres, dry pieces, where."""
