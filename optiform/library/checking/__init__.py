"""What must hold in a library and between its tables."""
