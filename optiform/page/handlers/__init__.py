"""What each address answers: one file for each kind of work."""
