"""Reports drawn as lines of text: curves, and bars with limits. What is drawn stays readable without colour."""
