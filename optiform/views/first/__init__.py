"""Makes first screens: what a reader needs at one look; the full result has everything else."""
