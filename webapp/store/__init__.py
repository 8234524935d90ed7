"""Store: the database and its folder, the audit, migrations, backups."""
