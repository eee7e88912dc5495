"""The store: the record in a database, SQLite or PostgreSQL, and how it is kept: settings, start-up checks, backup, restore, upgrade."""
