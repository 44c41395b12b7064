"""The command line: one file a group of commands, thin. It asks, and hands answers to `output`."""
