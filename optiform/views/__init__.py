"""An answer in, text or bytes out: nothing is computed here, and every sentence stands in one module."""
