"""A laboratory's analysis of a lot of oil: read, its names found in the catalogue, compared with the species, kept."""
