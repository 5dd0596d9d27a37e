"""The sentences that results are told in, one wording for one idea."""
