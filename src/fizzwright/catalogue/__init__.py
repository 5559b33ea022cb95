"""What things are: tables with provenance and versioned rule sets; read only."""

from fizzwright.catalogue.faults import CatalogueFaults, Fault
from fizzwright.catalogue.holdings import Catalogue, load

__all__ = ["Catalogue", "CatalogueFaults", "Fault", "load"]
