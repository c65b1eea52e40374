"""Forms to fill in: a record, a sheet for the bench, tables for a section and for the stock."""
