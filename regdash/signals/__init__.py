"""Which implants somebody should look at more closely: a screen in small steps on one event table."""
