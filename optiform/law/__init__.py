"""What the law of a place allows and what its labels must say: dated, sourced, replaceable data."""
