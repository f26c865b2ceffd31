"""Words everyone shares: units, sources, species, records, figures, errors."""
