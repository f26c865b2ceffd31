"""The book: append-only field records in one file (SQLite) or an office database (PostgreSQL)."""
