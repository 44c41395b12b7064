"""The sections of a summary, one file each: `section(asker)` asks and gives what stands under one heading."""
