"""The recipe document, its amounts, and resolving it against the catalogue into a Mix."""
