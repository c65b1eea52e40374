"""Tables too large to compare row by row: index, parts and cluster; loaded only when asked for."""
