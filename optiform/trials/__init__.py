"""The bench folder: what was weighed, what was read, and what that taught."""
