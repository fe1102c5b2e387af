"""The map file: one page that needs no network, with and without scripts."""
