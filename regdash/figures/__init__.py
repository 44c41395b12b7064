"""Report → vector figure for documents; nothing depends on colour, fonts or the machine."""
