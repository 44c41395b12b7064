"""Intake: what hospitals and other senders submit is checked, kept with its history, and told back to them."""
