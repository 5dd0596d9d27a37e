"""The files of a library, read with every fault and written whole."""
