"""Commands that see, check and extend a library of raw materials, and the questions that they ask."""
