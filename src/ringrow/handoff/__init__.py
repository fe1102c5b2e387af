"""What leaves: records, tables, exchange files, the map."""
