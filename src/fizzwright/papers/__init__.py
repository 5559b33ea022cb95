"""Printed things, set by typst."""
