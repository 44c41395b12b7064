"""How answers are written: as text for people, as JSON and CSV for programs. Nothing is computed here."""
