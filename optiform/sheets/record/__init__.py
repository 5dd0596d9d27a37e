"""How a batch is weighed and made, step by step."""
