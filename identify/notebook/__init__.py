"""What stands on a page: quantities, units, and measurements as they were written."""
