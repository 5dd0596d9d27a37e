"""Words results: one sentence for one idea."""
