"""Reports: what drivers found, as it arrived, and what the depot answers."""
