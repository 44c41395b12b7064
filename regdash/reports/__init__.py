"""One file a question: a cohort in, a report out, on a data cut whose queries can be cancelled."""
