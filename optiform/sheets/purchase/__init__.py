"""Which packs to buy, for one product or several."""
