"""Extracts: rows for who asked, made coarser until nobody is alone in them, with what is needed to read them."""
