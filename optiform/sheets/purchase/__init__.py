"""Chooses which packs to buy, for one product or several."""
