"""The workbench: pages served on loopback."""
