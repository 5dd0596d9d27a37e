"""Results as JSON, CSV and workbooks: every digit."""
