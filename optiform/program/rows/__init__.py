"""The requirements of a brief, its library and the law as rows of one program."""
