"""A family of products in full: what sharing saves, its shelf, its base, what to buy."""
