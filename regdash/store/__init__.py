"""The only code that knows DuckDB and SQLite: connections, SQL files, data cuts."""
