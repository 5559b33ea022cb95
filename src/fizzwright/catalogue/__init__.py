"""What things are: tables with provenance and versioned rule sets; read only."""

from fizzwright.catalogue.checks import check_tables
from fizzwright.catalogue.faults import CatalogueFaults, Fault
from fizzwright.catalogue.holdings import Catalogue, load
from fizzwright.catalogue.overlay import open_workshop

__all__ = ["Catalogue", "CatalogueFaults", "Fault", "check_tables", "load", "open_workshop"]
