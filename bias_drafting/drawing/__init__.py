"""What was drawn: readers, shapes and their roles."""
