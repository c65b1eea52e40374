"""What people see of a result: text in a terminal, pages, pictures and files."""
