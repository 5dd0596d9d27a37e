"""First screens: what a reader needs at one look; everything else stands in the full result."""
