"""One screen per place or question: each asks, keeps its answer and paints it."""
