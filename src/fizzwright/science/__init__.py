"""Equations: numpy in, numpy out; no files, no catalogue, no recipe."""
