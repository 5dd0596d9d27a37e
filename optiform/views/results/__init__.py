"""Each result told in blocks, whatever they are shown as."""
