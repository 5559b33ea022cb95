"""What things are: tables with provenance and versioned rule sets; read only."""
