"""The command line: words in, one call of :mod:`vrx.runs`, words out."""
