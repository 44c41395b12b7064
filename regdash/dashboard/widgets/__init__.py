"""The pieces that screens are made of; none of them asks a question of its own."""
