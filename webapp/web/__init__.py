"""Web: what every page and call shares: access, errors, forms, headers, downloads."""
