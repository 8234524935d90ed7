"""Plain helpers: settings, fields, JSON, CSV, files on disk; no Flask, no database."""
