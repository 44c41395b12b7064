"""The forms a summary is written in, one file each: Document in, bytes or text out. None of them asks anything."""
