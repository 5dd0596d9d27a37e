"""Tells how a batch is weighed and made, step by step, and reads what was written down."""
